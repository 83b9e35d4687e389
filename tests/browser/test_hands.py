"""Keys to press and handles to drag, by mouse, finger and keyboard; and the solid to turn."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from playwright.sync_api import CDPSession, Locator, Page, expect

from springloom.shape.paddle import default_paddle
from springloom.solid import glb_bytes, mesh_of
from tests.browser.browse import axe, shots
from tests.browser.small_server import SmallServer, small_server

PIXELS_A_UNIT = 2  # of the drawing: 400 px wide, 200 units
MM_A_PIXEL = 2 / PIXELS_A_UNIT  # data-mm over that


@pytest.fixture
def server() -> Iterator[SmallServer]:
    with small_server() as server:
        yield server


# --- keys --------------------------------------------------------------------------------


def press(page: Page, *keys: str) -> None:
    for key in keys:
        page.get_by_role("button", name=key, exact=True).click()


def test_keys_type_numbers_and_fractions(page: Page, server: SmallServer) -> None:
    page.goto(f"{server.address}/keypad")
    press(page, "3", "1/4")
    expect(page.locator("#crown")).to_have_value("3 1/4")
    press(page, "next", "1/2")
    expect(page.locator("#edge")).to_have_value("1/2")
    press(page, "clear", "1", "2", ".", "5", "back", "7")
    expect(page.locator("#edge")).to_have_value("12.7")
    press(page, "next")
    expect(page.locator("#store")).to_be_focused()
    assert axe(page) == []


def test_keys_type_at_the_caret_of_the_input_touched_last(
    wide: Page, server: SmallServer
) -> None:
    wide.goto(f"{server.address}/keypad")
    wide.locator("#edge").fill("125")
    wide.locator("#edge").press("Home")
    wide.keyboard.press("ArrowRight")
    press(wide, "9")
    expect(wide.locator("#edge")).to_be_focused()
    expect(wide.locator("#edge")).to_have_value("1925")
    press(wide, "back")
    expect(wide.locator("#edge")).to_have_value("125")
    wide.keyboard.press("Control+a")
    press(wide, "8")
    expect(wide.locator("#edge")).to_have_value("8")
    expect(wide.locator("#crown")).to_have_value("")


def test_a_key_is_heard_as_typing_is(wide: Page, server: SmallServer) -> None:
    wide.goto(f"{server.address}/keypad")
    wide.evaluate("""() => {
        window.heard = [];
        for (const name of ["input", "change"])
            document.addEventListener(name, (e) => window.heard.push(name + " " + e.target.id));
    }""")
    press(wide, "7", "next")
    assert wide.evaluate("window.heard")[:2] == ["input crown", "change crown"]


def test_keyboards_go_past_the_keys(wide: Page, server: SmallServer) -> None:
    wide.goto(f"{server.address}/keypad")
    wide.locator("#crown").focus()
    wide.keyboard.type("31/4")
    expect(wide.locator("#crown")).to_have_value("31/4")
    for place in ("#edge", "#store"):
        wide.keyboard.press("Tab")
        expect(wide.locator(place)).to_be_focused()
    expect(wide.locator("#crown")).to_have_attribute("inputmode", "decimal")


def test_a_phone_shows_no_second_keypad(narrow: Page, server: SmallServer) -> None:
    narrow.goto(f"{server.address}/keypad")
    narrow.get_by_role("button", name="7", exact=True).tap()
    expect(narrow.locator("#crown")).to_have_value("7")
    expect(narrow.locator("#crown")).to_have_attribute("inputmode", "none")


# --- handles -----------------------------------------------------------------------------


def handle(page: Page, name: str) -> Locator:
    return page.get_by_role("slider", name=name)


def middle(place: Locator) -> tuple[float, float]:
    box = place.bounding_box()
    assert box is not None
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def drag(page: Page, name: str, right: float, down: float) -> None:
    x, y = middle(handle(page, name))
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + right / 2, y + down / 2)
    page.mouse.move(x + right, y + down)
    page.mouse.up()


def test_a_handle_follows_the_pointer_along_its_axis(wide: Page, server: SmallServer) -> None:
    wide.goto(f"{server.address}/drawing")
    before = middle(handle(wide, "Width"))
    drag(wide, "Width", 12, 50)
    expect(wide.locator("#width")).to_have_value(f"{40 + 12 * MM_A_PIXEL:g}")
    assert middle(handle(wide, "Width")) == pytest.approx((before[0] + 12, before[1]), abs=0.5)
    drag(wide, "Crown", 50, -7)  # upwards makes it thicker
    expect(wide.locator("#crown")).to_have_value(f"{20 + 7 * MM_A_PIXEL:g}")
    drag(wide, "Width", 500, 0)
    expect(wide.locator("#width")).to_have_value("60")
    assert axe(wide) == []


def test_dragging_is_heard_as_typing_is(wide: Page, server: SmallServer) -> None:
    wide.goto(f"{server.address}/drawing")
    wide.evaluate("""() => {
        window.heard = [];
        for (const name of ["input", "change"])
            document.addEventListener(name, (e) => window.heard.push(name + " " + e.target.value));
    }""")
    drag(wide, "Width", 10, 0)
    heard = wide.evaluate("window.heard")
    assert heard[-2:] == ["input 50", "change 50"]


def test_a_finger_moves_a_handle(narrow: Page, server: SmallServer) -> None:
    narrow.goto(f"{server.address}/drawing")
    x, y = middle(handle(narrow, "Width"))
    touch = narrow.context.new_cdp_session(narrow)

    def send(kind: str, *points: tuple[float, float]) -> None:
        touch_event(touch, kind, *points)

    send("touchStart", (x, y))
    for step in (4, 8, 10):
        send("touchMove", (x + step, y + 30))
    send("touchEnd")
    expect(narrow.locator("#width")).to_have_value("50")
    assert narrow.evaluate("scrollY") == 0


def touch_event(session: CDPSession, kind: str, *points: tuple[float, float]) -> None:
    session.send("Input.dispatchTouchEvent", {
        "type": kind, "touchPoints": [{"x": x, "y": y} for x, y in points]})


def test_a_drawing_replaced_under_the_pointer_loses_neither_drag_nor_focus(
    wide: Page, server: SmallServer
) -> None:
    wide.goto(f"{server.address}/drawing")
    # What htmx does with the server's new drawing at each input, here by hand.
    wide.evaluate("""() => {
        document.getElementById("width").addEventListener("input", ({target}) => {
            const value = Number(target.value);
            const old = document.querySelector("svg");
            const fresh = old.cloneNode(true);
            const handle = fresh.querySelector("[data-drag=width]");
            handle.removeAttribute("transform");
            handle.dataset.value = value;
            handle.setAttribute("cx", 50 + (value - 40) / 2);
            old.replaceWith(fresh);
            fresh.dispatchEvent(new CustomEvent("htmx:load", {bubbles: true}));
        });
    }""")
    drag(wide, "Width", 16, 0)
    expect(wide.locator("#width")).to_have_value("56")
    expect(handle(wide, "Width")).to_be_focused()
    wide.keyboard.press("ArrowLeft")
    wide.keyboard.press("ArrowLeft")
    expect(wide.locator("#width")).to_have_value("55")
    expect(handle(wide, "Width")).to_have_attribute("aria-valuetext", "55 mm")


def test_arrow_keys_move_a_handle(wide: Page, server: SmallServer) -> None:
    wide.goto(f"{server.address}/drawing")
    width = handle(wide, "Width")
    expect(width).to_have_attribute("aria-valuenow", "40")
    expect(width).to_have_attribute("aria-valuemin", "30")
    expect(width).to_have_attribute("aria-valuemax", "60")
    width.focus()
    for key, value in (("ArrowRight", "40.5"), ("ArrowUp", "41"), ("ArrowLeft", "40.5"),
                       ("PageUp", "45.5"), ("PageDown", "40.5"), ("End", "60"), ("Home", "30"),
                       ("ArrowDown", "30")):
        wide.keyboard.press(key)
        expect(wide.locator("#width")).to_have_value(value)
    expect(width).to_have_attribute("aria-valuetext", "30 mm")


def test_handles_write_inches_as_fractions(wide: Page, server: SmallServer) -> None:
    wide.goto(f"{server.address}/drawing?unit=in")
    width = handle(wide, "Width")
    expect(width).to_have_attribute("aria-valuetext", "1 1/2 in")
    width.focus()
    wide.keyboard.press("ArrowRight")
    expect(wide.locator("#width")).to_have_value("1 17/32")
    wide.keyboard.press("End")
    expect(wide.locator("#width")).to_have_value("2")
    drag(wide, "Crown", 0, -25.4 / 4 / MM_A_PIXEL)  # a quarter of an inch
    expect(wide.locator("#crown")).to_have_value("1")


@pytest.mark.parametrize(("typed", "millimetres"), [
    ("44", 44), ("44.5", 44.5), ("44.5 mm", 44.5), ("1 1/2 in", 38.1), ('1.5"', 38.1),
    ("wide", 40), ("", 40), ("1/0", 40),  # no length: the handle stays where it is drawn
])
def test_a_handle_goes_where_its_input_says(
    wide: Page, server: SmallServer, typed: str, millimetres: float
) -> None:
    wide.goto(f"{server.address}/drawing")
    before = middle(handle(wide, "Width"))
    wide.locator("#width").fill(typed)
    expect(handle(wide, "Width")).to_have_attribute("aria-valuenow", f"{millimetres:g}")
    shift = (millimetres - 40) / MM_A_PIXEL
    assert middle(handle(wide, "Width")) == pytest.approx((before[0] + shift, before[1]), abs=0.5)


# --- the solid ---------------------------------------------------------------------------


def picture(page: Page) -> bytes:
    return page.locator("canvas").screenshot()


def test_the_solid_is_drawn_and_turned_by_keys_and_mouse(wide: Page, server: SmallServer) -> None:
    server.files["/paddle.glb"] = glb_bytes(mesh_of(default_paddle(), chord_m=1e-3), "Paddle")
    wide.goto(f"{server.address}/solid?file=paddle.glb")
    canvas = wide.locator("canvas[data-drawn]")
    expect(canvas).to_be_visible()
    first = picture(wide)
    assert len(set(first)) > 1
    canvas.focus()
    wide.keyboard.press("ArrowUp")
    turned = picture(wide)
    assert turned != first
    x, y = middle(canvas)
    wide.mouse.move(x, y)
    wide.mouse.down()
    wide.mouse.move(x + 40, y + 40)
    wide.mouse.up()
    assert picture(wide) != turned
    assert axe(wide) == []
    shots(wide, "solid")


def test_a_solid_that_can_not_be_had_is_said_in_words(wide: Page, server: SmallServer) -> None:
    wide.goto(f"{server.address}/solid?file=gone.glb")
    expect(wide.get_by_role("status").filter(has_text="can't draw the solid")).to_be_visible()


def test_pages_without_a_solid_do_not_load_its_script(wide: Page, server: SmallServer) -> None:
    asked: list[str] = []
    wide.on("request", lambda request: asked.append(request.url))
    wide.goto(f"{server.address}/keypad")
    wide.wait_for_load_state("networkidle")
    assert any("bench.js" in url for url in asked)
    assert not any("solid.js" in url for url in asked)
