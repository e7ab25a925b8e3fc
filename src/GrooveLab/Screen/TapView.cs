using System.Globalization;
using GrooveLab.Music.Wording;

namespace GrooveLab.Screen;

/// <summary>The screen while the rhythm of words is tapped: the bar, the next syllable large, and those after it.</summary>
internal static class TapView
{
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
        canvas.Write(1, row++, told, Ink.Strong, width - 1);
        row += small ? 0 : 1;
        if (left > 0 && row + BigText.RowsIn(canvas) <= message)
        {
            LargeViews.Word(canvas, 2, row, taps.Syllables[0], Ink.Strong);
            row += BigText.RowsIn(canvas) + (small ? 0 : 1);
            var rest = string.Join(' ', taps.Syllables.Skip(1));
            if (row < message)
            {
                canvas.Write(2, row, Cells.Cut(Cells.Of(rest.Replace("- ", "-", StringComparison.Ordinal)), width - 3), Ink.Plain, width - 1);
            }
        }

        ScreenPicture.Bottom(canvas, screen, small, told: false, string.Empty, message, keys);
        if (screen.Over is { } over)
        {
            ScreenPicture.Over(canvas, screen, over, keys);
        }
    }
}
