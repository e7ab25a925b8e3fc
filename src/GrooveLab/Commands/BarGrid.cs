using System.Text;
using GrooveLab.Music.Band;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Ensemble;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Time;
using GrooveLab.Outputs;

namespace GrooveLab.Commands;

/// <summary>
/// The bars as a grid of text: a column for every sixteenth or the nearest value (every half unit in long bars) and for every other place
/// where a note starts, such as a triplet's, rows for every part. Each note stands where it starts; dashes hold it. Bars wider than a line
/// continue below, from a group on.
/// </summary>
internal sealed class BarGrid
{
    /// <summary>The usual width, in characters.</summary>
    public const int UsualWidth = 120;

    private const int LongestName = 20;
    private const int FinestFraction = 64;

    private readonly IBarSource _band;
    private readonly TextWriter _to;
    private readonly int _nameWidth;
    private readonly List<Carried> _carried = [];
    private readonly string?[] _shapes;
    private readonly int _width;
    private string? _tempo;
    private Key _key;
    private bool _hasFractions;

    private BarGrid(IBarSource band, TextWriter to, int width)
    {
        _band = band;
        _to = to;
        _key = band.Heading.Key;
        _width = width;
        _nameWidth = Math.Min(LongestName, band.Band.Max(player => player.Name.Length)) + 2;
        _shapes = new string?[band.Band.Count];
    }

    /// <summary>Writes all bars.</summary>
    /// <param name="band">The bars.</param>
    /// <param name="to">The output.</param>
    /// <param name="width">The width of a line, in characters; a single column or the strings of a stroke may exceed it.</param>
    public static void Write(IBarSource band, TextWriter to, int width = UsualWidth) => Write(band, to, width, band.End!.Value);

    /// <summary>Writes the lead-in and the given number of bars.</summary>
    public static void Write(IBarSource band, TextWriter to, int width, int bars)
    {
        var grid = new BarGrid(band, to, width);
        grid.WriteHead();
        if (band is BarComposer composer)
        {
            ArrangementTable.Write(composer, to);
        }

        if (band.First < 0)
        {
            grid.WriteLeadIn(band.BarAt(-1));
        }

        var clock = new BarSeconds();
        for (var index = 0; index < Math.Min(bars, band.End ?? bars); index++)
        {
            grid.WriteBar(band.BarAt(index), clock);
        }

        grid.WriteLegend();
    }

    // The form's meters in order; if there are many, the first ones.
    private static string Meters(PieceHeading heading)
    {
        const int most = 4;
        var meters = heading.Meters.Select(meter => meter.ToString()).ToList();
        return string.Join(", ", meters.Take(most)) + (meters.Count > most ? ", …" : string.Empty);
    }

    private static Rational Held(Bar bar) =>
        bar.Tempi[0].Tempo.Seconds(bar.Tempi.Count > 1 ? bar.Tempi[1].Onset : bar.Length);

    private static string Number(Rational value) => value.ToDouble().ToString("0.##");

    private void WriteHead()
    {
        var first = _band.BarAt(0);
        var heading = _band.Heading;
        var felt = first.Felt == FeltLevel.BarGroup ? "bar group" : first.Felt.Name();
        _to.WriteLine($"{heading.Title}   {heading.Key}   {Meters(heading)}   {BarTempo.Of(first)}   felt by the {felt}");
        _to.WriteLine();
        _tempo = BarTempo.Of(first);
    }

    private static string LeadInParts(Bar leadIn)
    {
        var chord = leadIn.Notes.Any(note => note.Role is Role.Pulse or Role.Roll);
        var start = leadIn.Notes.Any(note => note.Role == Role.Tune);
        return string.Join(", ", new[] { chord ? "chord" : null, start ? "start note" : null, "count" }.Where(what => what is not null));
    }

    // The lead-in has the first bar's meter: it is shown in bars of it.
    private void WriteLeadIn(Bar leadIn)
    {
        var bars = (int)(leadIn.Length / leadIn.Meter.Length).Floor();
        for (var i = 0; i < bars; i++)
        {
            var from = leadIn.Meter.Length * i;
            var notes = leadIn.Notes.Where(note => note.Onset >= from && note.Onset < from + leadIn.Meter.Length)
                .Select(note => note with { Onset = note.Onset - from }).ToArray();
            _to.WriteLine(i == 0 ? $"before bar 1: {LeadInParts(leadIn)}" : "before bar 1");
            WriteRows(leadIn with { Start = leadIn.Start + from, Length = leadIn.Meter.Length, Notes = notes, Chords = leadIn.Chords });
        }
    }

    private void WriteBar(Bar bar, BarSeconds clock)
    {
        var (start, _) = clock.Next(bar);
        var chords = string.Join("  ", bar.Chords.Select(chord => chord.Symbol.Text));
        var group = bar.GroupPlace.Size > 1 ? $"  ({bar.GroupPlace.Index + 1} of {bar.GroupPlace.Size})" : string.Empty;
        var what = bar.IsEnding ? "rings" : bar.Ending > 0 ? $"{bar.Section} ending {bar.Ending}" : bar.Section;
        var key = bar.Key == _key || bar.IsEnding ? string.Empty : $"  in {bar.Key}";
        _key = bar.Key;
        var tempo = BarTempo.Of(bar);
        var change = bar.Stop == BandStop.Hold ? $"  held for {Number(Held(bar))} s" : tempo == _tempo ? string.Empty : "  " + tempo;
        _tempo = bar.Stop == BandStop.Hold ? _tempo : tempo;
        _to.WriteLine($"bar {bar.Index + 1}  {what}{group}  {bar.Meter}  {chords}  at {start:0.000} s{key}{change}");
        WriteRows(bar);
        foreach (var remark in bar.Remarks)
        {
            _to.WriteLine("  " + remark);
        }
    }

    private void WriteRows(Bar bar)
    {
        var columns = ColumnsOf(bar);
        var rows = new List<Row> { Row.Of(string.Empty, columns.Count, cell => Ruler(bar, columns[cell])) };
        for (var part = 0; part < _band.Band.Count; part++)
        {
            rows.AddRange(RowsOf(bar, part, columns));
        }

        var width = Math.Max(3, rows.Max(row => row.Cells.Max(cell => cell.Length)) + 1);
        var most = Math.Max(1, (_width - 2 - _nameWidth) / width);
        for (var from = 0; from < columns.Count;)
        {
            var end = columns.Count - from <= most ? columns.Count : BreakIn(bar, columns, from, most);
            if (from > 0)
            {
                _to.WriteLine();
            }

            foreach (var row in rows)
            {
                var line = new StringBuilder("  " + Fit(row.Name, _nameWidth));
                foreach (var cell in row.Cells.Take(from..end))
                {
                    line.Append(cell.PadRight(width));
                }

                _to.WriteLine((line.ToString().TrimEnd() + (end == columns.Count ? row.Behind : string.Empty)).TrimEnd());
            }

            from = end;
        }

        _to.WriteLine();
        _carried.RemoveAll(note => note.End <= bar.End);
        _carried.AddRange(bar.Notes
            .Where(note => note.End > bar.Length && note.Role is not (Role.Pulse or Role.Count))
            .Select(note => new Carried(note.Part, note.Key, bar.Start + note.End)));
    }

    // The column with which the next line starts: the last group that fits, or else the last unit, or as many as fit.
    private static int BreakIn(Bar bar, List<Span> columns, int from, int most)
    {
        var fitting = Enumerable.Range(from + 1, most).Reverse().ToList();
        bool IsUnit(int column) => (columns[column] / bar.Meter.Unit).IsInteger;
        bool IsGroup(int column) => IsUnit(column) && bar.Meter.GroupStartUnits.Contains((int)(columns[column] / bar.Meter.Unit).Numerator);
        return fitting.Find(IsGroup) is var group and > 0 ? group : fitting.Find(IsUnit) is var unit and > 0 ? unit : from + most;
    }

    private IEnumerable<Row> RowsOf(Bar bar, int part, List<Span> columns)
    {
        var player = _band.Band[part];
        var notes = bar.Notes.Where(note => note.Part == part).ToArray();
        var carried = _carried.Where(note => note.Part == part).ToArray();
        if (notes.Length == 0 && carried.Length == 0)
        {
            return [];
        }

        return player.Role switch
        {
            Role.Pulse => [StrumRow(player.Name, part, notes, columns)],
            Role.Count => [Row.Of(player.Name, columns.Count, cell => Starting(notes, columns, cell).Select(Click).FirstOrDefault(string.Empty))],
            Role.Roll => PitchRows(bar, player, UntilTheNext(notes), [.. carried.TakeLast(1).Select(note => note with { End = UntilTheFirst(note.End, notes, bar) })], columns),
            _ => PitchRows(bar, player, notes, carried, columns),
        };
    }

    // The notes of a roll ring into each other; a row for each would hide the line that is played.
    private static NoteEvent[] UntilTheNext(NoteEvent[] notes)
    {
        var onsets = notes.Select(note => note.Onset).Distinct().Order().ToList();
        return [.. notes.Select(note => note with { Length = UntilTheNext(note, onsets) })];
    }

    private static Span UntilTheNext(NoteEvent note, List<Span> onsets)
    {
        var next = onsets.Find(onset => onset > note.Onset);
        return next > note.Onset && next < note.End ? next - note.Onset : note.Length;
    }

    private static Position UntilTheFirst(Position end, NoteEvent[] notes, Bar bar) =>
        notes.Length > 0 && bar.Start + notes.Min(note => note.Onset) is var first && first < end ? first : end;

    private Row StrumRow(string name, int part, NoteEvent[] notes, List<Span> columns)
    {
        var row = Row.Of(name, columns.Count, cell => Starting(notes, columns, cell).Select(Strum).FirstOrDefault(string.Empty));
        // The strings of the fullest stroke, when they change.
        var fullest = notes.GroupBy(note => note.Onset).MaxBy(stroke => stroke.Count())!;
        var shape = string.Join(' ', fullest.OrderBy(note => note.Key).Select(note => Name(note)));
        var behind = shape == _shapes[part] ? string.Empty : "  " + shape;
        _shapes[part] = shape;
        return row with { Behind = behind };
    }

    private IEnumerable<Row> PitchRows(Bar bar, PartChannels player, NoteEvent[] notes, Carried[] carried, List<Span> columns)
    {
        // Grace notes come before their note and stand above it in brackets.
        var graces = notes.Where(note => note.IsGrace).ToArray();
        var voices = Voices([.. notes.Except(graces)], carried, bar);
        if (graces.Length > 0)
        {
            yield return Row.Of(string.Empty, columns.Count, cell =>
                string.Concat(Starting(graces, columns, cell).Select(note => $"({Name(note)})")));
        }

        for (var voice = voices.Count - 1; voice >= 0; voice--)
        {
            var line = voices[voice];
            yield return Row.Of(voice == voices.Count - 1 ? player.Name : string.Empty, columns.Count, cell =>
            {
                var starting = string.Join(' ', Starting(line.Notes, columns, cell).Select(note => Name(note)));
                return starting.Length > 0 ? starting : line.Holds(columns[cell]) ? "-" : string.Empty;
            });
        }

        if (notes.Any(note => note.Sung is not null))
        {
            yield return Row.Of(string.Empty, columns.Count, cell => string.Join(' ', Starting(notes, columns, cell).Select(note => note.Sung)));
        }

        if (notes.Any(note => note.Finger is not null || (note.Role == Role.Roll && note.Stroke != Stroke.None)))
        {
            yield return Row.Of(string.Empty, columns.Count, cell => string.Join(' ', Starting(notes, columns, cell).Select(Hand)));
        }
    }

    // Simultaneous notes have rows of their own, from the lowest up; a note held from the bar before continues in its row.
    private static List<Voice> Voices(NoteEvent[] notes, Carried[] carried, Bar bar)
    {
        var voices = carried.OrderBy(note => note.Key).Select(note => new Voice([], note.End - bar.Start)).ToList();
        foreach (var together in notes.GroupBy(note => note.Onset))
        {
            foreach (var note in together.OrderBy(note => note.Key))
            {
                var free = voices.Find(voice => voice.FreeAt(note.Onset));
                if (free is null)
                {
                    free = new Voice([], Span.Zero);
                    voices.Add(free);
                }

                free.Notes.Add(note);
            }
        }

        return voices;
    }

    // Sixteenths or the nearest value, as in the roll; half units where that would be too wide to read.
    private static Span ColumnOf(Bar bar)
    {
        var column = bar.Meter.Unit;
        while (column > Span.Of(1, 16) && (column == bar.Meter.Unit || bar.Length / column <= 12))
        {
            column /= 2;
        }

        return column;
    }

    // The even columns, and one for every note that starts between them. An even column between units makes room for those if no note
    // starts in it.
    private static List<Span> ColumnsOf(Bar bar)
    {
        var column = ColumnOf(bar);
        var even = Enumerable.Range(0, (int)(bar.Length / column).Ceiling()).Select(cell => column * cell).ToList();
        var starts = bar.Notes.Where(note => !note.IsGrace && note.Onset >= Span.Zero && note.Onset < bar.Length).Select(note => note.Onset).ToHashSet();
        var between = starts.Where(start => !(start / column).IsInteger).ToList();
        var units = between.Select(start => (start / bar.Meter.Unit).Floor()).ToHashSet();
        return
        [
            .. even.Where(start => starts.Contains(start) || (start / bar.Meter.Unit).IsInteger || !units.Contains((start / bar.Meter.Unit).Floor()))
                .Concat(between).Order(),
        ];
    }

    private static IEnumerable<NoteEvent> Starting(IEnumerable<NoteEvent> notes, List<Span> columns, int cell) =>
        notes.Where(note => note.Onset >= columns[cell] && (cell + 1 == columns.Count || note.Onset < columns[cell + 1]));

    private static string Fit(string text, int width) => text.Length >= width ? text[..(width - 1)] + " " : text.PadRight(width);

    // Units by number; a stroke stands before each group. Other places are fractions of a unit, dots if even.
    private string Ruler(Bar bar, Span column)
    {
        var units = column / bar.Meter.Unit;
        if (!units.IsInteger)
        {
            var inside = units - units.Floor();
            if ((column / ColumnOf(bar)).IsInteger || inside.Denominator > FinestFraction)
            {
                return ".";
            }

            _hasFractions = true;
            return inside.ToString();
        }

        var unit = (int)units.Numerator;
        var starts = unit > 0 && bar.Meter.GroupStartUnits.Contains(unit);
        return (starts ? "|" : string.Empty) + (unit + 1);
    }

    private static string Name(NoteEvent note) => note.Written.Pitch?.ToString() ?? string.Empty;

    private static string Click(NoteEvent note) => note.Key switch
    {
        CountKeys.BarGroup or CountKeys.Bar => "X",
        CountKeys.Group => "x",
        _ => ".",
    };

    private static string Strum(NoteEvent note)
    {
        var way = note.Stroke == Stroke.Up ? "up" : "down";
        return note.Touch == Touch.Open ? way.ToUpperInvariant() : way;
    }

    // "t4": the thumb on the fourth string; "r", "l": hands with hammers; "d", "u": plectrum.
    private static string Hand(NoteEvent note)
    {
        var hand = note.Finger is { } finger ? finger[..1]
            : note.Stroke == Stroke.None ? string.Empty
            : note.Stroke.ToString()[..1].ToLowerInvariant();
        return note.String > 0 ? hand + note.String : hand;
    }

    private void WriteLegend()
    {
        var roles = _band.Band.Select(player => player.Role).ToHashSet();
        if (roles.Contains(Role.Pulse))
        {
            Explain("DOWN, UP: strokes that ring; down, up: damped strokes; then the strings of the fullest stroke if they change.");
        }

        if (roles.Contains(Role.Roll))
        {
            Explain("A roll's notes ring on; each is shown as far as the next one.");
            Explain("Under a roll: t, i, m thumb, index, middle; r, l right and left hammer; d, u plectrum down and up; then the string.");
        }

        if (_hasFractions)
        {
            Explain("1/3, 2/3 and so on in the first row: places between the units, in parts of a unit.");
        }

        if (roles.Contains(Role.Count))
        {
            Explain("X: a click on a bar line; x: on a group; a dot: on a unit.");
        }
    }

    // Between words, so that the terminal does not break them.
    private void Explain(string sentence)
    {
        var line = new StringBuilder();
        foreach (var word in sentence.Split(' '))
        {
            if (line.Length > 0 && line.Length + 1 + word.Length > _width)
            {
                _to.WriteLine(line);
                line.Clear();
            }

            line.Append(line.Length > 0 ? " " : string.Empty).Append(word);
        }

        _to.WriteLine(line);
    }

    private readonly record struct Carried(int Part, int Key, Position End);

    private sealed record Row(string Name, string[] Cells)
    {
        public string Behind { get; init; } = string.Empty;

        public static Row Of(string name, int columns, Func<int, string> cell) => new(name, [.. Enumerable.Range(0, columns).Select(cell)]);
    }

    private sealed class Voice(List<NoteEvent> notes, Span heldUntil)
    {
        public List<NoteEvent> Notes => notes;

        public bool FreeAt(Span onset) => heldUntil <= onset && notes.TrueForAll(note => note.End <= onset);

        public bool Holds(Span at) => at < heldUntil || notes.Exists(note => note.Onset < at && note.End > at);
    }
}
