"""Makes the two shipped fonts from Noto Sans 2.015 (SIL Open Font License 1.1).

Usage: python3 make_fonts.py NotoSans-Regular.ttf NotoSans-SemiBold.ttf
Needs: fonttools 4.60 or later, brotli (for woff2).

What it does, and why:
- keeps Latin, Greek and the signs that a sheet needs, so that the files are small;
- draws the eight signs that the source lacks (see SIGNS) from its own strokes, in each weight;
- drops kerning and ligatures, so that a browser, the PDF and the PNG put every letter
  at the same place;
- gives the result a name of its own, so that it is never mixed up with an installed font.
"""

import sys

from fontTools.pens.boundsPen import BoundsPen
from fontTools.pens.recordingPen import DecomposingRecordingPen
from fontTools.pens.transformPen import TransformPen
from fontTools.pens.ttGlyphPen import TTGlyphPen
from fontTools.subset import Options, Subsetter
from fontTools.ttLib import TTFont

FAMILY = "Holdline Sans"
KEEP = (
    list(range(0x20, 0x7F))
    + list(range(0xA0, 0x180))
    + list(range(0x386, 0x3CF))
    + [0x2010, 0x2011, 0x2012, 0x2013, 0x2014, 0x2018, 0x2019, 0x201A, 0x201C, 0x201D, 0x201E]
    + [0x2020, 0x2022, 0x2026, 0x2030, 0x2032, 0x2033, 0x2044, 0x2070, 0x20AC]
    + list(range(0x2074, 0x207F))
    + list(range(0x2080, 0x208A))
    + [0x2009, 0x200A, 0x202F, 0x2126, 0x2206, 0x2212, 0x2215]
)


def bounds(font, name):
    pen = BoundsPen(font.getGlyphSet())
    font.getGlyphSet()[name].draw(pen)
    return pen.bounds


def place(font, name, pen, matrix):
    """Draws a glyph of the font through a matrix, composites dissolved."""
    record = DecomposingRecordingPen(font.getGlyphSet())
    font.getGlyphSet()[name].draw(record)
    record.replay(TransformPen(pen, matrix))


def polygon(pen, corners):
    pen.moveTo(corners[0])
    for corner in corners[1:]:
        pen.lineTo(corner)
    pen.closePath()


def compare(font, which, pen):
    """Less or greater, lifted and flattened, over a bar."""
    left, bottom, right, top = bounds(font, which)
    _, bar_low, _, bar_top = bounds(font, "minus")
    stroke = bar_top - bar_low
    flat = 0.86
    place(font, which, pen, (1, 0, 0, flat, 0, top * (1 - flat) + stroke * 0.4))
    polygon(pen, [(left, bottom - stroke), (left, bottom), (right, bottom), (right, bottom - stroke)])


def arrow(font, turn, pen):
    """Shaft and head; `turn` maps a point of the arrow to the right."""
    left, low, right, top = bounds(font, "minus")
    middle, stroke = (low + top) / 2, top - low
    left, right, head = left - 10, right + 10, 170
    corners = [
        (left, low), (left, top), (right - 1.35 * stroke, top),
        (right - head - 0.1 * stroke, middle + head - 0.2 * stroke),
        (right - head + 0.6 * stroke, middle + head + 0.5 * stroke),
        (right, middle),
        (right - head + 0.6 * stroke, middle - head - 0.5 * stroke),
        (right - head - 0.1 * stroke, middle - head + 0.2 * stroke),
        (right - 1.35 * stroke, low),
    ]  # fmt: skip
    centre = (left + right) / 2
    polygon(pen, [turn(x - centre, y - middle, centre, middle) for x, y in corners])


def root(font, pen):
    _, low, _, top = bounds(font, "minus")
    s = top - low
    polygon(
        pen,
        [
            (30, 300), (30, 300 + s), (170, 300 + s), (262, 110), (420, 760), (572, 760),
            (572, 760 - s), (480, 760 - s), (300, -20), (230, -20), (118, 300),
        ],
    )  # fmt: skip


def approximate(font, pen):
    _, low, _, top = bounds(font, "asciitilde")
    gap = (top - low) * 0.62
    place(font, "asciitilde", pen, (1, 0, 0, 1, 0, gap))
    place(font, "asciitilde", pen, (1, 0, 0, 1, 0, -gap))


SIGNS = {
    0x2190: lambda f, p: arrow(f, lambda x, y, cx, cy: (cx - x, cy - y), p),
    0x2191: lambda f, p: arrow(f, lambda x, y, cx, cy: (cx - y, cy + x), p),
    0x2192: lambda f, p: arrow(f, lambda x, y, cx, cy: (cx + x, cy + y), p),
    0x2193: lambda f, p: arrow(f, lambda x, y, cx, cy: (cx + y, cy - x), p),
    0x221A: root,
    0x2248: approximate,
    0x2264: lambda f, p: compare(f, "less", p),
    0x2265: lambda f, p: compare(f, "greater", p),
}


def add_sign(font, code, draw):
    pen = TTGlyphPen(None)
    draw(font, pen)
    name = f"uni{code:04X}"
    font.setGlyphOrder(font.getGlyphOrder() + [name])
    font["glyf"][name] = pen.glyph()
    font["glyf"][name].recalcBounds(font["glyf"])
    font["hmtx"][name] = (font["hmtx"]["minus"][0], font["glyf"][name].xMin)
    for table in font["cmap"].tables:
        if table.isUnicode() and table.format in (4, 12):
            table.cmap[code] = name


def make(source, style, stem):
    font = TTFont(source, recalcTimestamp=False)
    options = Options()
    options.layout_features = []
    options.hinting = False
    options.glyph_names = True
    options.drop_tables += ["GSUB", "GPOS", "GDEF", "kern", "DSIG", "STAT"]
    options.name_IDs = ["*"]
    options.notdef_outline = True
    options.recalc_timestamp = False
    subsetter = Subsetter(options)
    subsetter.populate(unicodes=KEEP)
    subsetter.subset(font)
    wide = font["hmtx"]["zero"][0]  # plus, minus and figures stand in columns
    font["hmtx"]["minus"] = (wide, font["hmtx"]["minus"][1])
    for code, draw in SIGNS.items():
        add_sign(font, code, draw)
    note = font["name"].getDebugName(0)
    font["name"].names = []
    for id_, words in {
        0: f"{note}. Subset, added to and renamed for holdline.",
        1: FAMILY if style == "Regular" else f"{FAMILY} {style}",
        2: "Regular",
        3: f"holdline:{FAMILY} {style}:1",
        4: f"{FAMILY} {style}",
        5: "Version 1.0, from Noto Sans 2.015",
        6: f"{FAMILY}-{style}".replace(" ", ""),
        13: "This Font Software is licensed under the SIL Open Font License, Version 1.1.",
        14: "https://openfontlicense.org",
        16: FAMILY,
        17: style,
    }.items():
        font["name"].setName(words, id_, 3, 1, 0x409)
    font.save(f"{stem}.ttf")
    font = TTFont(f"{stem}.ttf", recalcTimestamp=False)
    font.flavor = "woff2"
    font.save(f"{stem}.woff2")


if __name__ == "__main__":
    make(sys.argv[1], "Regular", "holdline-sans-regular")
    make(sys.argv[2], "SemiBold", "holdline-sans-semibold")
