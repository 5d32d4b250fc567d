"""The door for the forms of other apps: photos chosen or sent along in them."""

from evidence.forms import chosen_photos

__all__ = ["chosen_photos"]
