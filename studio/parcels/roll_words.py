"""What are the fields of a file of supporters called, in words?"""

WORDS = {
    "email": "e-mail",
    "joined_month": "month of joining",
    "left_month": "last month",
    "address_confirmed_date": "address confirmed on",
    "gift_from": "gift from",
    "please_no": "rather no forms",
    "no_glazes": "rather no glazes",
}
"""The fields whose names in a file are not their words already."""


def field_words(field: str) -> str:
    """A field as a person reads it: 'month of joining', 'street address'."""
    return WORDS.get(field, field.replace("_", " "))
