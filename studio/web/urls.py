"""Where are sign-in, the password and the photos?"""

from django.contrib.auth import views as auth
from django.urls import path, reverse_lazy

from studio.web import views

urlpatterns = [
    path("sign-in/", auth.LoginView.as_view(redirect_authenticated_user=True), name="sign-in"),
    path("sign-out/", auth.LogoutView.as_view(), name="sign-out"),
    path(
        "password/",
        auth.PasswordChangeView.as_view(
            template_name="registration/password.html", success_url=reverse_lazy("password-done")
        ),
        name="password",
    ),
    path("password/done/", views.password_changed, name="password-done"),
    path("photos/<str:name>", views.photo, name="photo"),
]
