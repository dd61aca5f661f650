"""Who may come in: a password where one is set, sessions, and the forms that only the page itself can send."""

from photomeasure.web.entry.forms import check_csrf, csrf, form_of
from photomeasure.web.entry.sessions import signed_in

__all__ = ["check_csrf", "csrf", "form_of", "signed_in"]
