"""Which contest's chains of custody are read."""

from django import forms


class CustodyFilter(forms.Form):
    """The contest whose containers are followed."""

    contest = forms.ChoiceField(label="Contest", required=False)
