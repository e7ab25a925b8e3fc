using System.Globalization;
using GrooveLab.Music.Wording;

namespace GrooveLab.Screen;

/// <summary>The screen while the rhythm of words is tapped: the bar, the next syllable large, and those after it.</summary>
internal static class TapView
{
    // The syllables after the next one, in rows.
    private const int MostRows = 3;

    /// <summary>Draws it.</summary>
    public static void Draw(Canvas canvas, ScreenState screen, TapsToCome taps, bool small)
    {
        var (width, height) = (canvas.Width, canvas.Height);
        ScreenPicture.TopLine(canvas, screen, screen.NextSection);
        var (keys, message) = (height - 1, height - 2);
        var wave = small ? 1 : Math.Max(3, height / 4);
        var row = 1;
        if (screen.Standing == Screen.Standing.Playing && screen.Hint.Length == 0)
        {
            if (wave > 1)
            {
                ScreenPicture.Wave(canvas, screen, row, wave);
            }

            ScreenPicture.Units(canvas, screen, row + wave);
        }
        else
        {
            LargeViews.Standing(canvas, screen, row, wave + 1);
        }

        row += wave + 1;
        var left = taps.Syllables.Count;
        var told = left == 0 ? $"{taps.Section}: all {taps.Count} tapped"
            : string.Create(CultureInfo.InvariantCulture, $"tap the words of {Cells.Of(taps.Section)}: {left} of {taps.Count} left");
        if (told.Length > width - 2)
        {
            told = string.Create(CultureInfo.InvariantCulture, $"{left} of {taps.Count} left");
        }

        canvas.Write(1, row++, told, Ink.Strong, width - 1);
        row += small ? 0 : 1;
        if (left > 0 && row + BigText.RowsIn(canvas) <= message)
        {
            LargeViews.Word(canvas, 2, row, taps.Syllables[0], Ink.Strong);
            row += BigText.RowsIn(canvas) + (small ? 0 : 1);
            Rest(canvas, string.Join(' ', taps.Syllables.Skip(1)).Replace("- ", "-", StringComparison.Ordinal), row, Math.Min(message, row + MostRows));
        }

        ScreenPicture.Bottom(canvas, screen, small, told: false, string.Empty, message, keys);
        if (screen.Over is { } over)
        {
            ScreenPicture.Over(canvas, screen, over, keys);
        }
    }

    private static void Rest(Canvas canvas, string words, int row, int end)
    {
        var text = Cells.Of(words);
        var room = canvas.Width - 3;
        for (; row < end && text.Length > 0; row++)
        {
            var at = text.Length <= room || row + 1 == end ? text.Length : text.LastIndexOf(' ', room);
            at = at > 0 ? at : room;
            canvas.Write(2, row, Cells.Cut(text[..at], room), Ink.Plain, canvas.Width - 1);
            text = text[at..].TrimStart();
        }
    }
}
