"""Two pages of a card side by side, small: `python -m tests.bench.pages PAGE PAGE OUT`."""

import sys

from PIL import Image

HEIGHT_PX, GAP_PX, COLOURS = 1000, 8, 256


def main(first: str, second: str, out: str) -> None:
    pages = [Image.open(name).convert("RGB") for name in (first, second)]
    small = [
        page.resize(
            (round(page.width * HEIGHT_PX / page.height), HEIGHT_PX), Image.Resampling.LANCZOS
        )
        for page in pages
    ]
    sheet = Image.new("RGB", (sum(page.width for page in small) + GAP_PX, HEIGHT_PX), "#bbbbbb")
    sheet.paste(small[0], (0, 0))
    sheet.paste(small[1], (small[0].width + GAP_PX, 0))
    sheet.quantize(COLOURS, dither=Image.Dither.NONE).save(out, optimize=True)


if __name__ == "__main__":
    main(*sys.argv[1:4])
