"""Hands at the bay's pages: by touch, by the keyboard alone, and in Firefox.

Each counts as a person does: a tap is one touch of a control, the focus of a field
included, and a list that opens takes two; a key is one character that is typed.
"""

import time

PATIENCE = 20.0  # seconds: other programs may run beside this
_MARK = "document.querySelector('main').setAttribute('data-left', 'no');"
_IS_MARKED = (
    "!document.querySelector('main') || !!document.querySelector('[data-left]')"
)


class Hands:
    """What every way of working at a page shares; places are CSS selectors."""

    def __init__(self, url):
        self.url = url
        self.taps = self.keys = 0
        self.typed = []
        self.faults = []

    def until(self, is_so, what):
        """Wait until something is so."""
        end = time.monotonic() + PATIENCE
        while not is_so():
            assert time.monotonic() < end, (what, self.faults, self.words("#main"))
            time.sleep(0.03)

    def press(self, place, *, leads=True):
        """Press a button or a link; where it ``leads``, until the page is another."""
        self.taps += 1
        if leads:
            self.run(_MARK)
        self._press(place)
        if leads:
            self.until(self._is_elsewhere, f"{place} leads nowhere")

    def _is_elsewhere(self):
        try:
            return not self.run(f"return {_IS_MARKED};")
        except Exception as error:  # the page is just being left
            if not any(w in str(error) for w in ("context", "unload", "navigat")):
                raise
            return False

    def write(self, name, text):
        """Write into a field."""
        self.taps += 1
        self.keys += len(text)
        self.typed.append(text)
        self._write(f'[name="{name}"]', text)

    def tick(self, name, value):
        """Choose one of the choices that are all in sight."""
        self.taps += 1
        self._press(f'[name="{name}"][value="{value}"]')

    def choose(self, name, value):
        """Choose from a list that opens, where it stands otherwise."""
        if self.value(f'[name="{name}"]') != value:
            self.taps += 2
            self._choose(f'[name="{name}"]', value)

    def amount(self, name, value, unit):
        """Write a value, and choose its unit."""
        self.write(f"{name}.value", value)
        self.choose(f"{name}.unit", unit)

    def unfold(self, within):
        """Open the group in which something lies, where it is folded away."""
        closed = f"details:not([open]):has({within})"
        if self.has(closed):
            self.press(f"{closed} > summary", leads=False)

    def sign_in(self, person, passphrase):
        """Sign in; not counted: it is done once in a while."""
        self.visit("/sign-in")
        self.tick("person", person)
        self.write("passphrase", passphrase)
        self.press(".now button.main")
        self.taps, self.keys, self.typed = 0, 0, []


class Touch(Hands):
    """A finger, or a mouse, at a page that playwright drives."""

    def __init__(self, url, page):
        super().__init__(url)
        self.page = page
        page.set_default_timeout(PATIENCE * 1000)
        page.on("console", self._heard)
        page.on("pageerror", lambda error: self.faults.append(str(error)))

    def _heard(self, message):
        # A browser calls it an error that a form is answered 422: look at it again.
        if message.type in {"error", "warning"} and "422" not in message.text:
            self.faults.append(message.text)

    def run(self, script):
        return self.page.evaluate(f"() => {{ {script} }}")

    def visit(self, path):
        self.page.goto(self.url + path)

    def words(self, place):
        return self.page.inner_text(place)

    def value(self, place):
        return self.page.locator(place).first.input_value()

    def has(self, place):
        return self.page.locator(place).count() > 0

    def path(self):
        return self.page.url.removeprefix(self.url)

    def give_file(self, name, file):
        """Choose a file: its button, and the file."""
        self.taps += 2
        self.page.set_input_files(f'input[type=file][name="{name}"]', file)

    def _press(self, place):
        self.page.locator(f"{place}:not([disabled])").first.click()

    def _write(self, place, text):
        self.page.locator(f"{place}:not([type=file])").first.click()
        self.page.keyboard.press("ControlOrMeta+a")
        self.page.keyboard.insert_text(text)

    def _choose(self, place, value):
        self.page.locator(place).first.select_option(value)


class Keys(Touch):
    """The keyboard alone: no place is reached but by the tab key and the arrows.

    A file is chosen for it: the browser's own window for that is not the page's.
    """

    def __init__(self, url, page):
        super().__init__(url, page)
        self.strokes = 0

    def _stroke(self, key):
        self.strokes += 1
        self.page.keyboard.press(key)

    def _is_at(self, place):
        return self.page.evaluate(
            "place => document.activeElement.matches(place)", place
        )

    def _reach(self, place):
        self.page.locator(f"{place}:not([disabled])").first.wait_for()
        for _ in range(250):
            if self._is_at(place):
                return
            self._stroke("Tab")
        raise AssertionError(f"{place} is not reached by the tab key")

    def _press(self, place):
        one = self.page.locator(f"{place}:not([disabled])").first
        kind = one.get_attribute("type")
        if kind == "radio":
            name = one.get_attribute("name")
            self._reach(f'[name="{name}"]')
            self._stroke("Space")
            for _ in range(60):
                if one.is_checked():
                    return
                self._stroke("ArrowDown")
            raise AssertionError(f"{place} is not reached by the arrows")
        self._reach(place)
        self._stroke("Space" if kind == "checkbox" else "Enter")

    def _write(self, place, text):
        self._reach(f"{place}:not([type=file])")
        self._stroke("ControlOrMeta+a")
        self.page.keyboard.type(text)
        self.strokes += len(text)

    def _choose(self, place, value):
        self._reach(place)
        # What is typed goes to the choice that begins so; then the arrows.
        one = self.page.locator(place).first
        self._stroke("Home")
        for _ in range(80):
            if one.input_value() == value:
                return
            self._stroke("ArrowDown")
        raise AssertionError(f"{value} is not reached at {place}")


class Fox(Hands):
    """Firefox, by its own driver."""

    def __init__(self, url, driver):
        super().__init__(url)
        self.driver = driver

    def run(self, script):
        return self.driver.execute_script(script)

    def visit(self, path):
        self.driver.navigate(self.url + path)

    def _all(self, place):
        return self.driver.find_elements("css selector", place)

    def words(self, place):
        return self._all(place)[0].text

    def value(self, place):
        return self._all(place)[0].get_property("value")

    def has(self, place):
        return bool(self._all(place))

    def path(self):
        return self.driver.get_url().removeprefix(self.url)

    def give_file(self, name, file):
        self.taps += 2
        self._all(f'input[type=file][name="{name}"]')[0].send_keys(str(file))

    def _press(self, place):
        enabled = f"{place}:not([disabled])"
        self.until(lambda: self.has(enabled), f"{place} is not there")
        one = self._all(enabled)[0]
        self.driver.execute_script("arguments[0].scrollIntoView();", [one])
        one.click()

    def _write(self, place, text):
        field = f"{place}:not([type=file])"
        self._press(field)
        one = self._all(field)[0]
        one.clear()
        one.send_keys(text)

    def _choose(self, place, value):
        self._press(place)
        self._all(f'{place} option[value="{value}"]')[0].click()
