using System.Globalization;
using GrooveLab.Exchange.Toml;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Time;

namespace GrooveLab.Exchange.Charts;

/// <summary>The written notes of a tune line, each with its place, so that single signs can be changed. Only for a text without problems;
/// <see cref="TuneNotes"/> reports problems.</summary>
internal sealed class TuneSpans
{
    private Span? _carried;

    /// <summary>Reads a line.</summary>
    /// <param name="pickup">The pickup, if any.</param>
    /// <param name="notes">The bars.</param>
    /// <param name="meters">The meters of the section's bars.</param>
    /// <param name="format">The format of the chart.</param>
    public TuneSpans(TomlString? pickup, TomlString notes, IReadOnlyList<BarMeter> meters, int format)
    {
        if (pickup is not null)
        {
            Pickup = new Bar(pickup);
            var reading = new Reading(Pickup);
            var scanner = new NoteScanner(pickup.Value);
            while (scanner.Next() is { } item)
            {
                reading.Take(item);
            }

            _carried = Lengths(Pickup, meters[0], null).Carried;
        }

        ReadBars(notes, meters);
        Style = StyleOf([.. (Pickup is null ? Bars : Bars.Prepend(Pickup)).SelectMany(bar => bar.Words)], format);
    }

    /// <summary>The pickup; null for none.</summary>
    public Bar? Pickup { get; }

    /// <summary>The bars.</summary>
    public List<Bar> Bars { get; } = [];

    /// <summary>The start and end of each bar line in the notes.</summary>
    public List<(int Start, int End)> BarLines { get; } = [];

    /// <summary>The style of its notes.</summary>
    public NoteStyle Style { get; }

    /// <summary>A note or a rest as written.</summary>
    /// <param name="Start">Its start: its marks, grace notes or name.</param>
    /// <param name="NameStart">The start of its name.</param>
    /// <param name="NameEnd">The end of its name.</param>
    /// <param name="LengthText">Its length as written; null if omitted.</param>
    /// <param name="End">Its end, including its tie.</param>
    /// <param name="Pitch">Its pitch; null for a rest.</param>
    /// <param name="Tie">The sign of its tie; null if not tied.</param>
    /// <param name="Tuplets">The tuplets around it, outermost first.</param>
    /// <param name="Graces">The start and end of the brackets of its grace notes; null for none.</param>
    /// <param name="LateText">How far it lays back, as written; null if not written.</param>
    /// <param name="Chunk">The index of its note or tuplet in its bar.</param>
    public sealed record Word(
        int Start,
        int NameStart,
        int NameEnd,
        string? LengthText,
        int End,
        Pitch? Pitch,
        char? Tie,
        IReadOnlyList<(int Many, int Of, bool Begins)> Tuplets,
        (int Start, int End)? Graces,
        string? LateText,
        int Chunk)
    {
        /// <summary>Its name as written.</summary>
        public required string Name { get; init; }

        /// <summary>The names of its marks as written, without laying back.</summary>
        public required IReadOnlyList<string> Marks { get; init; }

        /// <summary>The names of its grace notes as written.</summary>
        public required IReadOnlyList<string> GraceNames { get; init; }

        /// <summary>The factor by which its tuplets shorten it.</summary>
        public Rational Factor => Tuplets.Aggregate(Rational.One, (product, tuplet) => product * new Rational(tuplet.Of, tuplet.Many));
    }

    /// <summary>A bar as written.</summary>
    public sealed class Bar(TomlString text)
    {
        /// <summary>The text that contains it.</summary>
        public TomlString Text { get; } = text;

        /// <summary>Its notes and rests.</summary>
        public List<Word> Words { get; } = [];

        /// <summary>The start and end of each note with its marks, or of each tuplet.</summary>
        public List<(int Start, int End)> Chunks { get; } = [];

        /// <summary>The place of its sign that repeats the bar before; null if it has notes.</summary>
        public (int Start, int End)? Repeat { get; set; }

        /// <summary>The length that a note without a length gets at its start; null before the first note.</summary>
        public Span? CarriedBefore { get; init; }

        /// <summary>Its start in its text.</summary>
        public int Start => Repeat?.Start ?? Chunks[0].Start;

        /// <summary>Its end in its text.</summary>
        public int End => Repeat?.End ?? Chunks[^1].End;

        /// <summary>True for a rest alone without a length, which fills the bar.</summary>
        public bool IsLoneRest => Words is [{ Pitch: null, LengthText: null, Tuplets.Count: 0 }];

        /// <summary>True while it is empty.</summary>
        public bool IsEmpty => Words.Count == 0 && Repeat is null;
    }

    /// <summary>The written length of each note of a bar, before tuplets, and the length carried on from it.</summary>
    public static (IReadOnlyList<Span> Written, Span? Carried) Lengths(Bar bar, BarMeter meter, Span? carried)
    {
        var written = new List<Span>();
        foreach (var word in bar.Words)
        {
            if (word.LengthText is null)
            {
                carried ??= meter.Unit;
            }
            else
            {
                NoteLength.TryRead(word.LengthText, meter.Unit, out carried);
            }

            written.Add(bar.IsLoneRest ? meter.Length : carried!.Value);
        }

        return (written, carried);
    }

    /// <summary>The grace notes of a note.</summary>
    public static IReadOnlyList<Pitch> GracesOf(Bar bar, Word word) => word.Graces is not { } graces ? []
        :
        [
            .. GraceNames(bar.Text.Value[graces.Start..graces.End]).Select(pitch => TuneNotes.ReadPitch(pitch) ?? default),
        ];

    private static string[] GraceNames(string brackets) => brackets.Split([' ', '\t', '(', ')'], StringSplitOptions.RemoveEmptyEntries);

    private void ReadBars(TomlString notes, IReadOnlyList<BarMeter> meters)
    {
        var reading = new Reading(new Bar(notes) { CarriedBefore = _carried });
        var scanner = new NoteScanner(notes.Value);
        while (true)
        {
            var item = scanner.Next();
            if (item is { Kind: NoteItem.BarLine } line)
            {
                BarLines.Add((line.Start, line.End));
            }

            var meter = meters[Math.Min(Bars.Count, meters.Count - 1)];
            var ends = item is null or { Kind: NoteItem.BarLine } || (item.Value.Kind == NoteItem.LineBreak && IsFull(reading.Bar, meter));
            if (ends && !reading.Bar.IsEmpty)
            {
                _carried = Lengths(reading.Bar, meter, _carried).Carried;
                Bars.Add(reading.Bar);
                reading = new Reading(new Bar(notes) { CarriedBefore = _carried });
            }
            else if (item is { } other && !ends)
            {
                reading.Take(other);
            }

            if (item is null)
            {
                break;
            }
        }
    }

    private bool IsFull(Bar bar, BarMeter meter) =>
        bar.Repeat is not null || bar.IsLoneRest
        || Lengths(bar, meter, _carried).Written.Zip(bar.Words).Aggregate(Span.Zero, (sum, pair) => sum + (pair.First * pair.Second.Factor)) == meter.Length;

    private static NoteStyle StyleOf(IReadOnlyList<Word> words, int format)
    {
        var said = words.Where(word => word.LengthText is not null).ToList();
        bool InUnits(bool tuplets, bool otherwise)
        {
            var lengths = said.Where(word => word.Tuplets.Count > 0 == tuplets).Select(word => word.LengthText!).ToList();
            return lengths.Count == 0 ? otherwise : 2 * lengths.Count(length => length.Contains('/', StringComparison.Ordinal)) <= lengths.Count;
        }

        var texts = said.ConvertAll(word => word.LengthText!);
        var dotted = texts.Exists(length => length.EndsWith('.'));
        var plainDotted = texts.Exists(length => length.StartsWith("3/", StringComparison.Ordinal) && !length.EndsWith('.'));
        var usual = NoteStyle.Of(format);
        return usual with
        {
            Rest = words.FirstOrDefault(word => word.Pitch is null) is { } rest ? rest.Name[0] : usual.Rest,
            Tie = words.FirstOrDefault(word => word.Tie is not null)?.Tie ?? usual.Tie,
            InUnits = InUnits(tuplets: false, otherwise: true),
            TupletsInUnits = InUnits(tuplets: true, otherwise: false),
            Carries = words.Skip(1).Any(word => word is { LengthText: null, Pitch: not null })
                || !words.Zip(words.Skip(1)).Any(pair => pair.Second.Pitch is not null && pair.First.LengthText == pair.Second.LengthText),
            Decimals = texts.Exists(length => length.Contains('.', StringComparison.Ordinal) && !length.EndsWith('.')),
            Dots = dotted || !plainDotted,
            SaysAtTuplets = true,
        };
    }

    private sealed class Reading(Bar bar)
    {
        private readonly List<(int Many, int Of, bool Begins)> _tuplets = [];
        private int _chunkStart = -1;
        private int _wordStart = -1;
        private (int Start, int End)? _graces;
        private string? _late;
        private List<string> _marks = [];

        public Bar Bar => bar;

        public void Take(NoteScanner.Item item)
        {
            switch (item.Kind)
            {
                case NoteItem.Repeat:
                    bar.Repeat = (item.Start, item.End);
                    break;
                case NoteItem.OpenTuplet:
                    var sides = bar.Text.Value[(item.Start + 1)..item.End].Split(':');
                    _tuplets.Add((int.Parse(sides[0], CultureInfo.InvariantCulture), int.Parse(sides[1], CultureInfo.InvariantCulture), true));
                    _chunkStart = _chunkStart < 0 ? item.Start : _chunkStart;
                    break;
                case NoteItem.CloseTuplet:
                    _tuplets.RemoveAt(_tuplets.Count - 1);
                    Close(item.End);
                    break;
                case NoteItem.Graces:
                    Open(item.Start);
                    _graces = (_graces?.Start ?? item.Start, item.End);
                    break;
                case NoteItem.Mark:
                    Open(item.Start);
                    var name = bar.Text.Value[(item.Start + 1)..(item.End - 1)];
                    if (name.StartsWith(TuneMarks.Late, StringComparison.Ordinal))
                    {
                        _late = name[TuneMarks.Late.Length..];
                    }
                    else
                    {
                        _marks.Add(name);
                    }

                    break;
                case NoteItem.Note:
                    Open(item.Start);
                    Add(item);
                    Close(item.End);
                    break;
            }
        }

        private void Add(NoteScanner.Item item)
        {
            var word = bar.Text.Value[item.Start..item.End];
            var tie = word[^1] is '~' or '-' ? word[^1] : (char?)null;
            var body = tie is null ? word : word[..^1];
            var colon = body.IndexOf(':');
            var name = colon < 0 ? body : body[..colon];
            bar.Words.Add(new Word(
                _wordStart,
                item.Start,
                item.Start + name.Length,
                colon < 0 ? null : body[(colon + 1)..],
                item.End,
                name is "r" or "R" or "z" or "Z" ? null : TuneNotes.ReadPitch(name),
                tie,
                [.. _tuplets],
                _graces,
                _late,
                bar.Chunks.Count)
            {
                Name = name,
                Marks = _marks,
                GraceNames = _graces is { } graces ? GraceNames(bar.Text.Value[graces.Start..graces.End]) : [],
            });
            _marks = [];
            _graces = null;
            _late = null;
            _wordStart = -1;
            for (var i = 0; i < _tuplets.Count; i++)
            {
                _tuplets[i] = _tuplets[i] with { Begins = false };
            }
        }

        private void Open(int start)
        {
            _wordStart = _wordStart < 0 ? start : _wordStart;
            _chunkStart = _chunkStart < 0 ? start : _chunkStart;
        }

        private void Close(int end)
        {
            if (_tuplets.Count == 0)
            {
                bar.Chunks.Add((_chunkStart, end));
                _chunkStart = -1;
            }
        }
    }
}
