"""Where are sign-in, the password and the photos?"""

from django.contrib.auth import views as auth
from django.urls import path, reverse_lazy

from studio.web import views
from studio.web.forms import DoorForm, NewPasswordForm
from studio.web.roles import helpers_may

urlpatterns = [
    path(
        "sign-in/",
        auth.LoginView.as_view(authentication_form=DoorForm, redirect_authenticated_user=True),
        name="sign-in",
    ),
    path("sign-out/", helpers_may(auth.LogoutView.as_view()), name="sign-out"),
    path(
        "password/",
        helpers_may(
            auth.PasswordChangeView.as_view(
                form_class=NewPasswordForm,
                template_name="registration/password.html",
                success_url=reverse_lazy("password-done"),
            )
        ),
        name="password",
    ),
    path("password/done/", views.password_changed, name="password-done"),
    path("people/", views.people, name="people"),
    path("people/<int:user_id>/", views.open_or_close, name="open-or-close"),
    path("photos/<str:name>", views.photo, name="photo"),
]
