"""Draw *Lightoff Signs*, the companion of the typeface: lambda, subscripts, arrows, comparison signs.

Atkinson Hyperlegible Next has no Greek letters, subscripts or arrows, and its packages for the web leave
out the comparison signs. The companion carries them, with the same axis of weight, so that a family list
"Atkinson Hyperlegible Next", "Lightoff Signs" sets every line of a page or print in one voice.

Done once, at vendoring time: unpack the npm packages @expo-google-fonts/atkinson-hyperlegible-next and
@expo-google-fonts/inter (OFL-1.1 both), and with fonttools and brotli installed call

    python tools/lightoff_signs.py ATKINSON_FOLDER INTER_FOLDER OUTPUT_FOLDER

It writes one variable woff2 for the pages and five static TTF files for the typesetter.
"""

import sys
from pathlib import Path

from fontTools.designspaceLib import AxisDescriptor, DesignSpaceDocument, SourceDescriptor
from fontTools.fontBuilder import FontBuilder
from fontTools.pens.recordingPen import DecomposingRecordingPen
from fontTools.pens.transformPen import TransformPen
from fontTools.pens.ttGlyphPen import TTGlyphPen
from fontTools.ttLib import TTFont
from fontTools.varLib import build

FAMILY = "Lightoff Signs"
VERSION = "1.0"
FROM_INTER = "αβγδεηθλρστφω₀₁₂₃₄₅₆₇₈₉₊₋ₓ⁰⁴⁵⁶⁷⁸⁹⁺⁻→←↑↓↗↘′″✓∆"
FROM_ATKINSON = "≤≥≈≠Δ√∞Ωπ\u03bc∂"
STYLES = {300: "Light", 400: "Regular", 600: "SemiBold", 700: "Bold"}
MASTERS = {200: "ExtraLight", 400: "Regular", 800: "ExtraBold"}


def outline(font, character, *, scale):
    """The glyph of a character and its advance width, at a scale."""
    name = font.getBestCmap()[ord(character)]
    glyphs = font.getGlyphSet()
    recording = DecomposingRecordingPen(glyphs)
    glyphs[name].draw(recording)
    pen = TTGlyphPen(None)
    recording.replay(TransformPen(pen, (scale, 0, 0, scale, 0, 0)))
    return pen.glyph(dropImpliedOnCurves=False), round(glyphs[name].width * scale)


def draw(atkinson, inter, weight, style):
    """One static weight of the companion, in Atkinson's units and at its height of x."""
    scale = atkinson["OS/2"].sxHeight / inter["OS/2"].sxHeight
    digit = atkinson.getGlyphSet()["zero"].width
    cmap, glyphs, metrics = {}, {".notdef": TTGlyphPen(None).glyph()}, {".notdef": (500, 0)}
    for characters, font, size in ((FROM_INTER, inter, scale), (FROM_ATKINSON, atkinson, 1.0)):
        for character in characters:
            name = f"uni{ord(character):04X}"
            glyphs[name], width = outline(font, character, scale=size)
            metrics[name] = (width, 0)
            cmap[ord(character)] = name
    for character, width in (("\u202f", digit // 3), ("\u2007", digit)):
        name = f"uni{ord(character):04X}"
        glyphs[name], metrics[name], cmap[ord(character)] = TTGlyphPen(None).glyph(), (width, 0), name
    cmap[0x00B5] = cmap[0x03BC]  # the micro sign is the Greek letter
    builder = FontBuilder(atkinson["head"].unitsPerEm, isTTF=True)
    builder.setupGlyphOrder(list(glyphs))
    builder.setupCharacterMap(cmap)
    builder.setupGlyf(glyphs)
    builder.setupHorizontalMetrics(
        {
            name: (width, builder.font["glyf"][name].xMin if glyphs[name].numberOfContours else 0)
            for name, (width, _) in metrics.items()
        }
    )
    ascent, descent = atkinson["hhea"].ascent, atkinson["hhea"].descent
    builder.setupHorizontalHeader(ascent=ascent, descent=descent, lineGap=atkinson["hhea"].lineGap)
    linked = style in ("Regular", "Bold")
    builder.setupNameTable(
        {
            "copyright": "; ".join(font["name"].getDebugName(0) for font in (atkinson, inter)),
            "familyName": FAMILY if linked else f"{FAMILY} {style}",
            "styleName": style if linked else "Regular",
            "uniqueFontIdentifier": f"{FAMILY} {style} {VERSION}",
            "fullName": f"{FAMILY} {style}",
            "version": f"Version {VERSION}",
            "psName": f"LightoffSigns-{style}",
            "typographicFamily": FAMILY,
            "typographicSubfamily": style,
            "licenseDescription": atkinson["name"].getDebugName(13),
            "licenseInfoURL": atkinson["name"].getDebugName(14),
        }
    )
    source = atkinson["OS/2"]
    builder.setupOS2(
        usWeightClass=weight,
        sTypoAscender=source.sTypoAscender,
        sTypoDescender=source.sTypoDescender,
        sTypoLineGap=source.sTypoLineGap,
        usWinAscent=source.usWinAscent,
        usWinDescent=source.usWinDescent,
        sxHeight=source.sxHeight,
        sCapHeight=source.sCapHeight,
        fsSelection=0x20 if style == "Bold" else 0x40,
        fsType=0,
    )
    builder.font["head"].macStyle = 1 if style == "Bold" else 0
    builder.font["head"].created = builder.font["head"].modified = atkinson["head"].created
    builder.font.recalcTimestamp = False
    builder.setupPost()
    return builder.font


def main(atkinson_folder, inter_folder, output_folder):
    def weight_of(weight, style):
        place = f"{weight}{style}"
        atkinson = TTFont(atkinson_folder / place / f"AtkinsonHyperlegibleNext_{place}.ttf")
        inter = TTFont(inter_folder / place / f"Inter_{place}.ttf")
        return draw(atkinson, inter, weight, style)

    output_folder.mkdir(parents=True, exist_ok=True)
    for weight, style in STYLES.items():
        weight_of(weight, style).save(output_folder / f"LightoffSigns_{weight}{style}.ttf")

    space = DesignSpaceDocument()
    space.addAxis(AxisDescriptor(tag="wght", name="Weight", minimum=200, default=400, maximum=800))
    for weight, style in MASTERS.items():
        space.addSource(
            SourceDescriptor(name=style, font=weight_of(weight, style), location={"Weight": weight})
        )
    variable, _, _ = build(space)
    for record in variable["name"].names:
        if record.nameID == 16:
            record.string = FAMILY
    variable.recalcTimestamp = False
    variable.flavor = "woff2"
    variable.save(output_folder / "lightoff-signs-wght-normal.woff2")


if __name__ == "__main__":
    main(*(Path(argument) for argument in sys.argv[1:]))
