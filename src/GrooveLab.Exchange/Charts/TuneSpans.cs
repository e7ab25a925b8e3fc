using System.Globalization;
using GrooveLab.Exchange.Toml;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Time;

namespace GrooveLab.Exchange.Charts;

/// <summary>
/// The notes of a line of a tune as they are written, each with its place, so that single signs of them can be changed. Only of a text without
/// problems; what is wrong in one <see cref="TuneNotes"/> tells.
/// </summary>
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

    /// <summary>Where in the notes bar lines start and end.</summary>
    public List<(int Start, int End)> BarLines { get; } = [];

    /// <summary>How its notes are written.</summary>
    public NoteStyle Style { get; }

    /// <summary>A note or a rest as written.</summary>
    /// <param name="Start">Where it starts: its marks, its grace notes or its name.</param>
    /// <param name="NameStart">Where its name starts.</param>
    /// <param name="NameEnd">Where its name ends.</param>
    /// <param name="LengthText">Its length as written; null where it is left out.</param>
    /// <param name="End">Where it ends, its tie included.</param>
    /// <param name="Pitch">Its pitch; null for a rest.</param>
    /// <param name="Tie">The sign of its tie; null where it is not tied.</param>
    /// <param name="Tuplets">The tuplets it stands in, outermost first.</param>
    /// <param name="Graces">Where the brackets of its grace notes start and end; null without any.</param>
    /// <param name="LateText">How late it comes, as written; null where it does not say.</param>
    /// <param name="Chunk">The number of the note or tuplet in its bar that it belongs to.</param>
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
        /// <summary>The first sign of its name.</summary>
        public char Sign { get; init; }

        /// <summary>By how much its tuplets shorten it.</summary>
        public Rational Factor => Tuplets.Aggregate(Rational.One, (product, tuplet) => product * new Rational(tuplet.Of, tuplet.Many));
    }

    /// <summary>A bar as written.</summary>
    public sealed class Bar(TomlString text)
    {
        /// <summary>The text in which it stands.</summary>
        public TomlString Text { get; } = text;

        /// <summary>Its notes and rests.</summary>
        public List<Word> Words { get; } = [];

        /// <summary>Where each note with what belongs to it, or tuplet, starts and ends.</summary>
        public List<(int Start, int End)> Chunks { get; } = [];

        /// <summary>Where its sign stands that repeats the bar before; null where notes are written.</summary>
        public (int Start, int End)? Repeat { get; set; }

        /// <summary>The length that a note without one is read with at its beginning; null where there was no note yet.</summary>
        public Span? CarriedBefore { get; init; }

        /// <summary>Where it starts in its text.</summary>
        public int Start => Repeat?.Start ?? Chunks[0].Start;

        /// <summary>Where it ends in its text.</summary>
        public int End => Repeat?.End ?? Chunks[^1].End;

        /// <summary>True for a rest alone without a length, which fills the bar.</summary>
        public bool IsLoneRest => Words is [{ Pitch: null, LengthText: null, Tuplets.Count: 0 }];

        /// <summary>True while nothing was written in it.</summary>
        public bool IsEmpty => Words.Count == 0 && Repeat is null;
    }

    /// <summary>How long each note of a bar lasts as written, before tuplets, and which length is carried on from it.</summary>
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
            .. bar.Text.Value[graces.Start..graces.End].Split([' ', '\t', '(', ')'], StringSplitOptions.RemoveEmptyEntries)
                .Select(pitch => TuneNotes.ReadPitch(pitch) ?? default),
        ];

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
            Rest = words.FirstOrDefault(word => word.Pitch is null) is { } rest ? rest.Sign : usual.Rest,
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
                    _late = name.StartsWith(TuneMarks.Late, StringComparison.Ordinal) ? name[TuneMarks.Late.Length..] : _late;
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
            { Sign = name[0] });
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
