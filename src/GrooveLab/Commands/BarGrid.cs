using System.Text;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Ensemble;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Score;
using GrooveLab.Music.Time;

namespace GrooveLab.Commands;

/// <summary>
/// The bars as a grid of text: a column for every sixteenth or what comes nearest to it (every half unit in long bars), a row for every
/// part. Each note stands where it starts.
/// </summary>
internal static class BarGrid
{
    private const int NameWidth = 16;

    public static void Write(BarComposer band, TextWriter to) => Write(band, to, band.End!.Value);

    /// <summary>Writes the first so many bars.</summary>
    public static void Write(BarComposer band, TextWriter to, int bars)
    {
        WriteHead(band, to);
        var clock = new BarSeconds();
        for (var index = 0; index < Math.Min(bars, band.End ?? bars); index++)
        {
            WriteBar(band, band.BarAt(index), clock, to);
        }

        WriteKey(band, to);
    }

    /// <summary>A tempo as its reader feels it: "bar = 60 (eighth = 300)".</summary>
    public static string TempoText(Bar bar)
    {
        var tempo = bar.Tempi[0].Tempo;
        var unit = $"{NoteValue.NameOf(bar.Meter.Unit)} = {Number(tempo.PerMinute(bar.Meter.Unit))}";
        return bar.Felt is Music.Feel.FeltLevel.Bar or Music.Feel.FeltLevel.BarGroup
            ? $"bar = {Number(tempo.PerMinute(bar.Meter.Length))} ({unit})"
            : unit;
    }

    private static string Number(Rational value) => value.ToDouble().ToString("0.##");

    private static void WriteHead(BarComposer band, TextWriter to)
    {
        var first = band.BarAt(0);
        to.WriteLine($"{band.Chart.Title}   {band.Chart.Key}   {first.Meter}   {TempoText(first)}   felt by the {FeltWord(first)}");
        to.WriteLine();
    }

    private static string FeltWord(Bar bar) => bar.Felt switch
    {
        Music.Feel.FeltLevel.Unit => "unit",
        Music.Feel.FeltLevel.Group => "group",
        Music.Feel.FeltLevel.Bar => "bar",
        _ => "bar group",
    };

    private static void WriteBar(BarComposer band, Bar bar, BarSeconds clock, TextWriter to)
    {
        var (start, _) = clock.Next(bar);
        var column = ColumnOf(bar);
        var columns = (int)(bar.Length / column).Numerator;
        var width = columns > 24 ? 4 : 5;
        var chords = string.Join("  ", bar.Chords.Select(chord => chord.Symbol.Text));
        var group = bar.GroupPlace.Size > 1 ? $"  ({bar.GroupPlace.Index + 1} of {bar.GroupPlace.Size})" : string.Empty;
        var what = bar.IsEnding ? "rings" : bar.Section;
        to.WriteLine($"bar {bar.Index + 1}  {what}{group}  {bar.Meter}  {chords}  at {start:0.000} s");
        to.WriteLine(Row(string.Empty, columns, width, cell => Ruler(bar, column, cell)));
        for (var part = 0; part < band.Band.Count; part++)
        {
            var seat = band.Band[part];
            var notes = bar.Notes.Where(note => note.Part == part).ToArray();
            if (notes.Length == 0)
            {
                continue;
            }

            to.WriteLine(Row(seat.Name, columns, width, cell => Mark(band.Chart.Key, notes, column, cell)));
            if (notes.Any(note => note.Syllable is not null))
            {
                to.WriteLine(Words(notes, column, width));
            }
        }

        foreach (var remark in bar.Remarks)
        {
            to.WriteLine("  " + remark);
        }

        to.WriteLine();
    }

    // Sixteenths or what comes nearest, as the roll has them; halves of the unit where that would be too wide to read.
    private static Span ColumnOf(Bar bar)
    {
        var column = bar.Meter.Unit;
        while (column > Span.Of(1, 16) && (column == bar.Meter.Unit || bar.Length / column <= 12))
        {
            column /= 2;
        }

        return column;
    }

    private static string Row(string name, int columns, int width, Func<int, string> cell)
    {
        var row = new StringBuilder("  " + Fit(name, NameWidth));
        for (var i = 0; i < columns; i++)
        {
            row.Append(Fit(cell(i), width));
        }

        return row.ToString().TrimEnd();
    }

    private static string Fit(string text, int width) => text.Length >= width ? text[..(width - 1)] + " " : text.PadRight(width);

    // Units by number; a bar stands before each group.
    private static string Ruler(Bar bar, Span column, int cell)
    {
        var units = column * cell / bar.Meter.Unit;
        if (!units.IsInteger)
        {
            return ".";
        }

        var unit = (int)units.Numerator;
        var starts = unit > 0 && bar.Meter.GroupStartUnits.Contains(unit);
        return (starts ? "|" : string.Empty) + (unit + 1);
    }

    private static string Mark(Key key, NoteEvent[] notes, Span column, int cell)
    {
        var from = column * cell;
        var starting = notes.Where(note => note.Onset >= from && note.Onset < from + column).ToArray();
        if (starting.Length == 0)
        {
            var held = notes.Any(note => note.Onset < from && note.End > from && note.Role is not Role.Pulse);
            return held ? "-" : string.Empty;
        }

        var first = starting[0];
        return first.Role switch
        {
            Role.Pulse => Strum(first),
            Role.Count => first.Key is CountKeys.BarGroup or CountKeys.Bar ? "X" : first.Key == CountKeys.Group ? "x" : ".",
            _ => string.Join(' ', starting.Select(note => key.SpellPitch(note.Key).ToString())),
        };
    }

    private static string Strum(NoteEvent note)
    {
        var way = note.Stroke == Stroke.Up ? "up" : "down";
        return note.Touch == Touch.Open ? way.ToUpperInvariant() : way;
    }

    private static string Words(NoteEvent[] notes, Span column, int width)
    {
        var row = new StringBuilder(new string(' ', NameWidth + 2));
        foreach (var note in notes.Where(note => note.Syllable is not null))
        {
            var at = NameWidth + 2 + ((int)(note.Onset / column).Floor() * width);
            row.Append(' ', Math.Max(row.Length > NameWidth + 2 && at <= row.Length ? 1 : 0, at - row.Length));
            row.Append(note.Syllable);
        }

        return row.ToString();
    }

    private static void WriteKey(BarComposer band, TextWriter to)
    {
        var roles = band.Band.Select(seat => seat.Role).ToHashSet();
        if (roles.Contains(Role.Pulse))
        {
            to.WriteLine("DOWN, UP: strokes that ring; down, up: damped strokes.");
        }

        if (roles.Contains(Role.Count))
        {
            to.WriteLine("X: a click on a bar line; x: on a group; a dot: on a unit.");
        }
    }
}
