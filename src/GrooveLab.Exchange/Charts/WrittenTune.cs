using GrooveLab.Exchange.Toml;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Time;

namespace GrooveLab.Exchange.Charts;

/// <summary>
/// The notes of a tune as they are written, each with its place, so that single signs of them can be changed. Only of a text without problems;
/// what is wrong in one <see cref="TuneNotes"/> tells.
/// </summary>
internal sealed class WrittenTune
{
    private Span? _carried;

    /// <summary>Reads a tune.</summary>
    /// <param name="pickup">The pickup, if any.</param>
    /// <param name="notes">The bars.</param>
    /// <param name="meters">The meters of the section's bars.</param>
    public WrittenTune(TomlString? pickup, TomlString notes, IReadOnlyList<BarMeter> meters)
    {
        if (pickup is not null)
        {
            Pickup = new Bar(pickup) { CarriedBefore = null };
            ReadPickup(Pickup, meters[0]);
        }

        ReadBars(notes, meters);
        Style = StyleOf([.. (Pickup is null ? Bars : Bars.Prepend(Pickup)).SelectMany(bar => bar.Elements)]);
    }

    /// <summary>The pickup; null without one.</summary>
    public Bar? Pickup { get; }

    /// <summary>The bars.</summary>
    public List<Bar> Bars { get; } = [];

    /// <summary>Where in the notes bar lines start and end.</summary>
    public List<(int Start, int End)> BarLines { get; } = [];

    /// <summary>How its notes are written.</summary>
    public NoteStyle Style { get; }

    /// <summary>A note or a rest as written.</summary>
    /// <param name="Start">Where its name starts.</param>
    /// <param name="NameEnd">Where its name ends.</param>
    /// <param name="LengthText">Its length as written; null where it is left out.</param>
    /// <param name="End">Where it ends, its tie included.</param>
    /// <param name="Pitch">Its pitch; null for a rest.</param>
    /// <param name="Tied">True when a tie leads on from it.</param>
    /// <param name="Factor">How much of its written length it lasts, in a tuplet.</param>
    /// <param name="Graces">Where the brackets of its grace notes start and end; null without any.</param>
    /// <param name="Chunk">The number of the note or tuplet in its bar that it belongs to.</param>
    public sealed record Element(
        int Start, int NameEnd, string? LengthText, int End, Pitch? Pitch, bool Tied, Rational Factor, (int Start, int End)? Graces, int Chunk);

    /// <summary>A bar as written.</summary>
    public sealed class Bar(TomlString text)
    {
        /// <summary>The text in which it stands.</summary>
        public TomlString Text { get; } = text;

        /// <summary>Its notes and rests.</summary>
        public List<Element> Elements { get; } = [];

        /// <summary>Where each note with what belongs to it, or tuplet, starts and ends.</summary>
        public List<(int Start, int End)> Chunks { get; } = [];

        /// <summary>Where its sign stands that repeats the bar before; null where notes are written.</summary>
        public (int Start, int End)? Repeat { get; set; }

        /// <summary>The length that a note without one is read with at its beginning; null where none was said yet.</summary>
        public Span? CarriedBefore { get; set; }

        /// <summary>Where it starts in its text.</summary>
        public int Start => Repeat?.Start ?? Chunks[0].Start;

        /// <summary>Where it ends in its text.</summary>
        public int End => Repeat?.End ?? Chunks[^1].End;

        /// <summary>True for a rest alone without a length, which fills the bar.</summary>
        public bool IsLoneRest => Elements is [{ Pitch: null, LengthText: null }] && Elements[0].Factor == Rational.One;

        /// <summary>True while nothing was written in it.</summary>
        public bool IsEmpty => Elements.Count == 0 && Repeat is null;
    }

    /// <summary>How long each note of a bar lasts as written, before tuplets, and which length is carried on from it.</summary>
    public static (IReadOnlyList<Span> Written, Span? Carried) Lengths(Bar bar, BarMeter meter, Span? carried)
    {
        var written = new List<Span>();
        foreach (var element in bar.Elements)
        {
            if (element.LengthText is null)
            {
                carried ??= meter.Unit;
            }
            else
            {
                NoteLength.TryRead(element.LengthText, meter.Unit, out carried);
            }

            written.Add(bar.IsLoneRest ? meter.Length : carried!.Value);
        }

        return (written, carried);
    }

    /// <summary>What sounds and rests in a bar, and with which notes each begins and ends as written.</summary>
    public static IReadOnlyList<(TuneStretch Stretch, int First, int Last)> Stretches(Bar bar, IReadOnlyList<Span> written)
    {
        var found = new List<(TuneStretch Stretch, int First, int Last)>();
        var at = Span.Zero;
        for (var i = 0; i < bar.Elements.Count; i++)
        {
            var element = bar.Elements[i];
            var length = written[i] * element.Factor;
            var goesOn = i > 0 && (element.Pitch is null ? bar.Elements[i - 1].Pitch is null : bar.Elements[i - 1].Tied);
            if (goesOn)
            {
                var (before, first, _) = found[^1];
                found[^1] = (before with { Length = before.Length + length, Tied = element.Tied }, first, i);
            }
            else
            {
                found.Add((new TuneStretch(at, length, element.Pitch, GracesOf(bar, element), element.Tied), i, i));
            }

            at += length;
        }

        return found;
    }

    private static IReadOnlyList<Pitch> GracesOf(Bar bar, Element element) => element.Graces is not { } graces ? []
        :
        [
            .. bar.Text.Value[graces.Start..graces.End].Split([' ', '\t', '(', ')'], StringSplitOptions.RemoveEmptyEntries)
                .Select(word => TuneNotes.ReadPitch(word) ?? default),
        ];

    private void ReadPickup(Bar bar, BarMeter meter)
    {
        var reading = new Reading(bar);
        var scanner = new NoteScanner(bar.Text.Value);
        while (scanner.Next() is { } item)
        {
            reading.Take(item);
        }

        _carried = Lengths(bar, meter, null).Carried;
    }

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
        || Lengths(bar, meter, _carried).Written.Zip(bar.Elements).Aggregate(Span.Zero, (sum, pair) => sum + (pair.First * pair.Second.Factor)) == meter.Length;

    private static NoteStyle StyleOf(IReadOnlyList<Element> elements)
    {
        var said = elements.Where(element => element.LengthText is not null).ToList();
        bool InUnits(bool tuplets, bool otherwise)
        {
            var lengths = said.Where(element => element.Factor != Rational.One == tuplets).Select(element => element.LengthText!).ToList();
            var fractions = lengths.Count(length => length.Contains('/', StringComparison.Ordinal));
            return lengths.Count == 0 ? otherwise : 2 * fractions <= lengths.Count;
        }

        var texts = said.ConvertAll(element => element.LengthText!);
        var dotted = texts.Exists(length => length.EndsWith('.'));
        var plainDotted = texts.Exists(length => length.StartsWith("3/", StringComparison.Ordinal) && !length.EndsWith('.'));
        return new NoteStyle(
            InUnits: InUnits(tuplets: false, otherwise: true),
            Carries: elements.Skip(1).Any(element => element is { LengthText: null, Pitch: not null })
                || !elements.Zip(elements.Skip(1)).Any(pair => pair.Second.Pitch is not null && pair.First.LengthText == pair.Second.LengthText),
            Decimals: texts.Exists(length => length.Contains('.', StringComparison.Ordinal) && !length.EndsWith('.')),
            Dots: dotted || !plainDotted,
            TupletsInUnits: InUnits(tuplets: true, otherwise: false));
    }

    private sealed class Reading(Bar bar)
    {
        private readonly Stack<Rational> _tuplets = [];
        private int _chunkStart = -1;
        private (int Start, int End)? _graces;

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
                    _tuplets.Push(new Rational(
                        long.Parse(sides[1], System.Globalization.CultureInfo.InvariantCulture),
                        long.Parse(sides[0], System.Globalization.CultureInfo.InvariantCulture)));
                    Open(item.Start);
                    break;
                case NoteItem.CloseTuplet:
                    _tuplets.Pop();
                    Close(item.End);
                    break;
                case NoteItem.Graces:
                    _graces = (_graces?.Start ?? item.Start, item.End);
                    Open(item.Start);
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
            var tied = word.EndsWith('~');
            var body = tied ? word[..^1] : word;
            var colon = body.IndexOf(':');
            var name = colon < 0 ? body : body[..colon];
            bar.Elements.Add(new Element(
                item.Start,
                item.Start + name.Length,
                colon < 0 ? null : body[(colon + 1)..],
                item.End,
                name is "r" or "R" ? null : TuneNotes.ReadPitch(name),
                tied,
                _tuplets.Aggregate(Rational.One, (product, ratio) => product * ratio),
                _graces,
                bar.Chunks.Count));
            _graces = null;
        }

        private void Open(int start) => _chunkStart = _chunkStart < 0 ? start : _chunkStart;

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
