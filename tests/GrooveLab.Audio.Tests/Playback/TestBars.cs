using GrooveLab.Audio.Playback.Engine;
using GrooveLab.Music.Band;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Time;

namespace GrooveLab.Audio.Tests.Playback;

/// <summary>Bars with the meters, tempi and notes that a test needs.</summary>
internal sealed class TestBars : IBarSource
{
    private readonly List<Bar> _bars = [];
    private readonly bool _endless;

    private TestBars(IReadOnlyList<PartChannels> band, bool endless)
    {
        Band = band;
        _endless = endless;
    }

    public int First => _bars[0].Index;

    public int? End => _endless ? null : _bars[^1].Index + 1;

    public IReadOnlyList<PartChannels> Band { get; }

    public PieceHeading Heading => new("bars to order", Key.CMajor, [.. _bars.Select(bar => bar.Meter).Distinct()]);

    public int Asked { get; private set; }

    public Bar BarAt(int index)
    {
        Asked++;
        if (!_endless || index - First < _bars.Count)
        {
            return _bars[index - First];
        }

        // An endless source repeats its last bar.
        var last = _bars[^1];
        return last with { Index = index, Start = last.Start + (last.Length * (index - last.Index)) };
    }

    public static PartChannels BandPart(string name, int channel, double level = 0, int pan = 0, Technique technique = Technique.Plectrum, int program = 24) =>
        new(
            name,
            Role.Pulse,
            new Instrument { Name = name, Technique = technique, Lowest = 0, Highest = 127, Program = program },
            channel,
            channel,
            level,
            pan);

    public static NoteEvent Note(
        Span onset, Span length, int key = 60, int part = 0, int velocity = 100, int offset = 0, int spread = 0, int overlap = 0) => new()
        {
            Part = part,
            Role = Role.Pulse,
            Onset = onset,
            Length = length,
            Key = key,
            Velocity = velocity,
            OffsetMicroseconds = offset,
            SpreadMicroseconds = spread,
            OverlapMicroseconds = overlap,
            Written = new WrittenOrigin { Pitch = Pitch.FromMidi(key), Onset = onset, Length = length },
        };

    /// <summary>A bar without a position; <see cref="Of"/> sets it.</summary>
    public static Bar Bar(int numerator, int denominator, Tempo tempo, params IReadOnlyList<NoteEvent> notes) =>
        Bar(numerator, denominator, [(Span.Zero, tempo)], notes);

    public static Bar Bar(
        int numerator, int denominator, IReadOnlyList<(Span Onset, Tempo Tempo)> tempi, IReadOnlyList<NoteEvent> notes) => new()
        {
            Index = 0,
            Start = Position.Zero,
            Length = Span.Of(numerator, denominator),
            Meter = new BarMeter(new TimeSignature(numerator, denominator), Grouping.Undivided(numerator)),
            Felt = FeltLevel.Unit,
            GroupPlace = new BarGroupPlace(0, 0, 1),
            Section = "A",
            IndexInSection = 0,
            Playing = 0,
            Tasks = BarTasks.None(6),
            Key = Key.CMajor,
            Swing = Swing.Straight,
            Tempi = tempi,
            Chords = [],
            Notes = notes,
            Controls = [],
        };

    /// <summary>A note on every unit of a bar, each as long as the unit.</summary>
    public static Bar Units(int numerator, int denominator, Tempo tempo, int key = 60, int part = 0, int offset = 0) =>
        Bar(numerator, denominator, tempo, [.. Enumerable.Range(0, numerator)
            .Select(unit => Note(Span.Of(unit, denominator), Span.Of(1, denominator), key, part, offset: offset))]);

    public static TestBars Of(IReadOnlyList<Bar> bars, IReadOnlyList<PartChannels>? band = null, int leadIns = 0, bool endless = false)
    {
        var source = new TestBars(band ?? [BandPart("one", 0)], endless);
        var start = Position.Zero;
        for (var i = 0; i < leadIns; i++)
        {
            start -= bars[i].Length;
        }

        for (var i = 0; i < bars.Count; i++)
        {
            source._bars.Add(bars[i] with { Index = i - leadIns, Start = start });
            start += bars[i].Length;
        }

        return source;
    }
}
