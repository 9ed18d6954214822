# SPDX-License-Identifier: Apache-2.0
"""Writes src/drawing/font_widths.cpp from the B612 font files: python3 tools/font_widths.py FOLDER > FILE
Needs python3-fonttools. Run again only when the font changes; a unit test compares the table with the font."""
import sys
from fontTools.ttLib import TTFont

folder = sys.argv[1]


def widths(name):
    font = TTFont(f"{folder}/{name}.otf")
    unit = font["head"].unitsPerEm
    return unit, {c: font["hmtx"][g][0] for c, g in font.getBestCmap().items() if 0x20 <= c < 0xE000 and c != 0xAD}


unit, regular = widths("B612-Regular")
faces = {"regular": regular, "bold": widths("B612-Bold")[1], "italic": widths("B612-Italic")[1]}
letters = sorted(set.intersection(*(set(f) for f in faces.values()), set(widths("B612Mono-Regular")[1])))
mono = widths("B612Mono-Regular")[1]
letters = [c for c in letters if mono[c] == 1300]
out = ["// SPDX-License-Identifier: Apache-2.0",
       "// Made by tools/font_widths.py from B612 (SIL Open Font License 1.1): advance widths, 1/2000 em.",
       '#include "drawing/font_widths.hpp"', "", "namespace guidepin::drawing {", "",
       "// letter, regular, bold, italic", "// clang-format off",
       f"std::array<FontWidth, {len(letters)}> const font_widths{{{{"]
line = ""
for c in letters:
    item = "{0x%x,%d,%d,%d}," % (c, faces["regular"][c], faces["bold"][c], faces["italic"][c])
    if len(line) + len(item) > 108:
        out.append(line)
        line = ""
    line += item
out += [line, "}};", "// clang-format on", "", "} // namespace guidepin::drawing"]
print("\n".join(out))
print(len(letters), unit, sum(regular[c] != faces["bold"][c] for c in letters), file=sys.stderr)
