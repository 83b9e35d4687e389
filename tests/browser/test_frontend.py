"""The scripts of the bench in a browser, against a server that goes away and comes back."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.browser.browse import axe, opened
from tests.browser.small_server import TOKEN, SmallServer, small_server

NO_LOCKS = "Object.defineProperty(navigator, 'locks', {value: undefined})"


@pytest.fixture
def server() -> Iterator[SmallServer]:
    with small_server() as server:
        yield server


@pytest.fixture
def readings(wide: Page, server: SmallServer) -> Page:
    """The page that adds readings."""
    wide.goto(f"{server.address}/readings")
    return wide


def store(page: Page, weight: str) -> None:
    page.get_by_label("Weight").fill(weight)
    page.get_by_role("button", name="Store").click()


def bar(page: Page) -> str:
    return page.locator("#offline").inner_text()


# --- what is typed is kept ---------------------------------------------------------------


def test_what_was_typed_is_there_when_the_page_opens_again(readings: Page) -> None:
    readings.get_by_label("Weight").fill("812")
    readings.get_by_label("Remark").fill("after the rain")
    readings.get_by_label("Scale").select_option("hook")
    readings.get_by_label("Dry").check()
    readings.reload()
    expect(readings.get_by_label("Weight")).to_have_value("812")
    expect(readings.get_by_label("Remark")).to_have_value("after the rain")
    expect(readings.get_by_label("Scale")).to_have_value("hook")
    expect(readings.get_by_label("Dry")).to_be_checked()
    expect(readings.locator(".kept-note")).to_contain_text("What was typed here")
    assert axe(readings) == []


def test_typing_can_be_taken_away_for_good(readings: Page) -> None:
    readings.get_by_label("Weight").fill("812")
    readings.reload()
    readings.get_by_role("button", name="Take it away").click()
    expect(readings.get_by_label("Weight")).to_have_value("")
    readings.reload()
    expect(readings.get_by_label("Weight")).to_have_value("")
    expect(readings.locator(".kept-note")).to_have_count(0)


def test_nothing_is_put_back_where_nothing_was_left_typed(readings: Page) -> None:
    readings.get_by_label("Weight").fill("812")
    readings.get_by_label("Weight").fill("")
    readings.reload()
    expect(readings.locator(".kept-note")).to_have_count(0)


def test_a_stored_entry_is_kept_no_longer(readings: Page, server: SmallServer) -> None:
    store(readings, "812")
    expect(readings.locator("#stored")).to_have_text("812")
    assert readings.url.endswith(f"/readings?kept={server.posted[0]}")
    readings.goto(f"{server.address}/readings")
    expect(readings.get_by_label("Weight")).to_have_value("")
    assert server.weights() == ["812"]


def test_the_pages_own_token_is_sent(readings: Page, server: SmallServer) -> None:
    store(readings, "812")
    expect(readings.locator("#stored")).to_have_text("812")
    assert server.tokens == {(TOKEN, TOKEN)}


def test_any_page_that_confirms_an_entry_clears_its_typing(
    readings: Page, server: SmallServer
) -> None:
    readings.get_by_label("Weight").fill("812")
    uid = readings.locator('input[name="uid"]').input_value()
    readings.goto(f"{server.address}/log-in?kept={uid}")
    readings.goto(f"{server.address}/readings")
    expect(readings.get_by_label("Weight")).to_have_value("")


def test_typing_is_offered_where_the_server_has_newer_values(
    wide: Page, server: SmallServer
) -> None:
    wide.goto(f"{server.address}/sheet")
    wide.get_by_label("Length").fill("2300")
    server.version = 2
    wide.reload()
    expect(wide.get_by_label("Length")).to_have_value("2202")
    wide.get_by_role("button", name="Put it in").click()
    expect(wide.get_by_label("Length")).to_have_value("2300")


def test_going_back_after_storing_shows_the_page_one_came_from(
    wide: Page, server: SmallServer
) -> None:
    wide.goto(f"{server.address}/log-in")
    wide.goto(f"{server.address}/readings")
    store(wide, "812")
    expect(wide.locator("#stored")).to_have_text("812")
    wide.go_back()
    expect(wide).to_have_url(f"{server.address}/readings")
    expect(wide.locator("#stored")).to_have_text("812")
    wide.go_back()
    expect(wide.get_by_role("heading")).to_have_text("Who are you?")


# --- what can't be sent waits ------------------------------------------------------------


def test_readings_wait_for_a_server_that_is_away_and_go_by_themselves(
    page: Page, server: SmallServer
) -> None:
    page.goto(f"{server.address}/readings")
    server.go()
    store(page, "812")
    expect(page.locator("#offline")).to_contain_text(
        "Offline: 1 reading waits here and will be sent by itself.")
    expect(page.get_by_label("Weight")).to_have_value("")  # there is room for the next
    store(page, "814")
    expect(page.locator("#offline")).to_contain_text(
        "Offline: 2 readings wait here and will be sent by themselves.")
    assert axe(page) == []
    server.come()
    expect(page.locator("#offline")).to_contain_text("All sent: 2 readings are stored.")
    assert server.weights() == ["812", "814"]
    page.get_by_role("link", name="Show this page anew").click()
    expect(page.locator("#stored")).to_have_text("812814")
    expect(page.locator("#offline")).to_be_hidden()


def test_they_wait_through_a_closed_tab(readings: Page, server: SmallServer) -> None:
    server.go()
    store(readings, "812")
    expect(readings.locator("#offline")).to_contain_text("1 reading waits")
    context = readings.context
    readings.close()
    server.come()
    later = context.new_page()
    later.goto(f"{server.address}/log-in")
    expect(later.locator("#offline")).to_contain_text("All sent: 1 reading is stored.")
    assert server.weights() == ["812"]


@pytest.mark.parametrize("status", [502, 503, 504])
def test_a_server_that_says_it_is_away_is_asked_again(
    readings: Page, server: SmallServer, status: int
) -> None:
    server.answer = status
    store(readings, "812")
    expect(readings.locator("#offline")).to_contain_text("Offline: 1 reading waits")
    server.answer = None
    expect(readings.locator("#offline")).to_contain_text("All sent")
    assert len(set(server.posted)) == 1
    assert server.weights() == ["812"]


def test_no_network_is_noticed_and_so_is_its_return(readings: Page, server: SmallServer) -> None:
    readings.context.set_offline(True)
    store(readings, "812")
    expect(readings.locator("#offline")).to_contain_text("Offline: 1 reading waits")
    readings.context.set_offline(False)
    expect(readings.locator("#offline")).to_contain_text("All sent")
    assert server.weights() == ["812"]


def test_an_answer_lost_on_its_way_stores_nothing_twice(
    readings: Page, server: SmallServer
) -> None:
    server.mute = True
    store(readings, "812")
    expect(readings.locator("#offline")).to_contain_text("Offline: 1 reading waits")
    server.mute = False
    expect(readings.locator("#offline")).to_contain_text("All sent")
    assert server.weights() == ["812"]
    assert len(server.posted) > 1


@pytest.mark.parametrize("locks", [True, False], ids=["with locks", "on plain http"])
def test_two_tabs_send_each_entry_once_and_in_order(
    chromium: Browser, server: SmallServer, locks: bool
) -> None:
    with opened(chromium, "wide") as first:
        if not locks:
            first.context.add_init_script(NO_LOCKS)
        tabs = [first, first.context.new_page()]
        for tab in tabs:
            tab.goto(f"{server.address}/readings")
        server.go()
        for count, weight in enumerate(["810", "811", "812", "813"]):
            store(tabs[count % 2], weight)
            expect(tabs[count % 2].locator("#offline")).to_contain_text(
                "1 reading waits" if count == 0 else f"{count + 1} readings wait")
        server.slow_s = 0.2  # long enough for the other tab to begin too, if it may
        server.come()
        for tab in tabs:
            tab.evaluate("dispatchEvent(new Event('online'))")
        for tab in tabs:
            expect(tab.locator("#offline")).not_to_contain_text("wait")
            expect(tab.locator("#offline")).not_to_contain_text("Sending")
    assert server.weights() == ["810", "811", "812", "813"]
    assert len(server.posted) == len(set(server.posted))


def test_the_last_of_several_corrections_waits(wide: Page, server: SmallServer) -> None:
    wide.goto(f"{server.address}/sheet")
    server.go()
    for length in ("2300", "2310"):
        wide.get_by_label("Length").fill(length)
        wide.get_by_role("button", name="Store").click()
        wide.wait_for_function(
            "length => Object.entries(localStorage).some(([name, text]) => "
            "name.includes('outbox') && text.includes(length))", arg=length)
        expect(wide.locator("#offline")).to_contain_text("Offline: 1 sheet waits")
        expect(wide.get_by_label("Length")).to_have_value(length)
    server.come()
    expect(wide.locator("#offline")).to_contain_text("All sent")
    assert [fields["length"] for fields in server.kept.values()] == ["2310"]


# --- what the server refuses is shown and kept ---------------------------------------------


def test_what_is_wrong_is_shown_beside_what_was_typed(readings: Page, server: SmallServer) -> None:
    store(readings, "wrong")
    expect(readings.get_by_role("alert")).to_have_text("Weight: is no number")
    expect(readings.get_by_label("Weight")).to_have_value("wrong")
    expect(readings.get_by_label("Weight")).to_be_focused()
    store(readings, "812")
    expect(readings.locator("#stored")).to_have_text("812")
    assert server.weights() == ["812"]


def test_a_page_without_the_form_leaves_the_form_and_says_why(
    readings: Page, server: SmallServer
) -> None:
    server.answer = 404
    store(readings, "812")
    expect(readings.locator("#offline")).to_contain_text("Not stored. The paddle is gone.")
    expect(readings.get_by_label("Weight")).to_have_value("812")
    readings.reload()
    expect(readings.get_by_label("Weight")).to_have_value("812")


def test_a_page_to_log_in_at_confirms_nothing(readings: Page, server: SmallServer) -> None:
    server.answer = 303
    store(readings, "812")
    expect(readings.locator("#offline")).to_contain_text("Not stored. Who are you?")
    server.answer = None
    readings.get_by_role("button", name="Store").click()
    expect(readings.locator("#stored")).to_have_text("812")


def test_what_is_refused_later_can_be_corrected(readings: Page, server: SmallServer) -> None:
    server.go()
    store(readings, "wrong")
    expect(readings.locator("#offline")).to_contain_text("1 reading waits")
    store(readings, "813")
    expect(readings.locator("#offline")).to_contain_text("2 readings wait")
    server.come()
    expect(readings.locator("#offline")).to_contain_text(
        "The reading that waited here was not stored. Weight: is no number")
    assert server.weights() == ["813"]
    assert axe(readings) == []
    readings.get_by_role("button", name="Correct it").click()
    expect(readings.get_by_label("Weight")).to_have_value("wrong")
    store(readings, "812")
    expect(readings.locator("#stored")).to_have_text("813812")
    expect(readings.locator("#offline")).to_be_hidden()


def test_what_is_refused_later_can_be_sent_again_or_thrown_away(
    readings: Page, server: SmallServer
) -> None:
    server.answer = 503
    for weight in ("812", "813"):
        store(readings, weight)
        expect(readings.get_by_label("Weight")).to_have_value("")
    server.answer = 403
    expect(readings.get_by_role("button", name="Send it again")).to_have_count(2)
    server.answer = None
    readings.get_by_role("button", name="Throw it away").first.click()
    readings.get_by_role("button", name="Send it again").click()
    expect(readings.locator("#offline")).to_contain_text("All sent")
    assert server.weights() == ["813"]


def test_a_conflict_found_later_keeps_the_typing_beside_the_newer_values(
    wide: Page, server: SmallServer
) -> None:
    wide.goto(f"{server.address}/sheet")
    server.go()
    wide.get_by_label("Length").fill("2300")
    wide.get_by_role("button", name="Store").click()
    expect(wide.locator("#offline")).to_contain_text("1 sheet waits")
    server.version = 2
    server.come()
    expect(wide.locator("#offline")).to_contain_text("The sheet was changed meanwhile")
    wide.get_by_role("button", name="Correct it").click()
    expect(wide.get_by_label("Length")).to_have_value("2202")
    wide.get_by_role("button", name="Put it in").click()
    wide.get_by_role("button", name="Store").click()
    expect(wide.locator("#version")).to_have_text("Version 3")
    assert [fields["length"] for fields in server.kept.values()] == ["2300"]


def test_two_stores_at_one_address_keep_apart(wide: Page, server: SmallServer) -> None:
    wide.goto(f"{server.address}/readings")
    wide.get_by_label("Weight").fill("812")
    wide.route("**/readings", lambda route: route.fulfill(
        response=(answer := route.fetch()),
        body=answer.text().replace("<title>", '<meta name="store" content="other"><title>')))
    wide.reload()
    expect(wide.get_by_label("Weight")).to_have_value("")
    wide.unroute("**/readings")
    wide.reload()
    expect(wide.get_by_label("Weight")).to_have_value("812")
