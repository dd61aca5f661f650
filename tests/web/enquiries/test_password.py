"""With a password the dealer's cases are shown to nobody else, links go on working, and every form of the dealer's is the page's own."""

from __future__ import annotations

import re
from pathlib import Path

from starlette.testclient import TestClient

from photomeasure.web.app import page_app
from photomeasure.web.cases import Cases
from photomeasure.web.store import Store
from tests.web.enquiries.door import ABOUT, answered, in_pieces, link_in, press, sample
from tests.web.entry.test_sign_in import PASSWORD, sign_in, word_in
from tests.web.sending import BASE, HOST, TOKEN, url


def test_the_dealer_signs_in_and_the_customer_does_not(tmp_path: Path) -> None:
    app = page_app(TOKEN, [HOST], cases=Cases(store=Store(tmp_path / "kept")), password=PASSWORD)
    with TestClient(app, base_url=BASE) as dealer:
        for page in ("cases/", "cases/new", "cases/settings", "cases/list.csv", "cases/some/export.zip"):
            assert dealer.get(url(page), follow_redirects=False).status_code == 303, page
        assert dealer.post(url("cases/"), data=ABOUT).status_code == 401
        sign_in(dealer)
        form = word_in(dealer.get(url("cases/new")).text)
        assert dealer.post(url("cases/"), data=ABOUT).status_code == 403  # without the session's word
        made = dealer.post(url("cases/"), data={**ABOUT, "csrf": form})
        place, link = str(made.url).removeprefix(BASE), link_in(made)
        # every form on the dealer's pages carries it
        for page in (place, place + "delete", place + "edit", url("cases/settings"), url("cases/new")):
            text = dealer.get(page).text
            forms = re.findall(r'<form method="post".*?</form>', text, re.DOTALL)
            assert forms and all('name="csrf"' in one for one in forms), page
        # the customer, and the dealer who looks at the link in the same browser
        customer = TestClient(app, base_url=BASE)
        customer.portal = (
            dealer.portal
        )  # one loop for both, as a server has: what is measured for one outlives a request
        for whose in (customer, dealer):
            assert whose.get(link).status_code == 200 and form not in whose.get(link).text
            answered(whose, link)
            in_pieces(whose, link, sample("chat.jpg"))
            assert press(whose, link + "send").status_code == 200
        gone = dealer.post(place + "delete", data={"csrf": form})
        assert gone.status_code == 200 and dealer.get(link).status_code == 404
