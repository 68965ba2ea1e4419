"""From which paper form a page is being filled in."""

from django.http import HttpRequest

from registry.usecases.paper_forms import look_at_form_to_act
from registry.web.pages import who_and_when


def paper_form_asked(request: HttpRequest) -> str:
    """Return the number of the paper form an address names; empty where none.

    Raises:
        NotThere: there is no such form within the asker's scope.
    """
    number = request.GET.get("form", "")
    if not number:
        return ""
    return look_at_form_to_act(form=number, **who_and_when(request)).row.number
