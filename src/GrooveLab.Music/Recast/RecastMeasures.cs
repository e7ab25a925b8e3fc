using GrooveLab.Music.Charts;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Recast;

/// <summary>A note of a line whose neighbouring intervals turned: long-short became short-long, or even.</summary>
/// <param name="Stretch">The number of the stretch in the recasting.</param>
/// <param name="Line">The line.</param>
/// <param name="Note">The middle note of the three.</param>
/// <param name="IsReversed">True if the order turned; false if unequal lengths became equal.</param>
public readonly record struct TurnedFigure(int Stretch, int Line, int Note, bool IsReversed);

/// <summary>A syllable about which the report speaks.</summary>
/// <param name="Stretch">The number of the stretch in the recasting.</param>
/// <param name="Verse">The verse, from 0.</param>
/// <param name="Note">The note of the melody.</param>
public readonly record struct SungPlace(int Stretch, int Verse, int Note);

/// <summary>What a recasting kept and what it changed.</summary>
public sealed class RecastMeasures
{
    private const int SixteenthsInWhole = 16;
    private const double HeardLengthening = 0.1;
    private const double Breath = 0.3;
    private const int Minute = 60;

    private readonly SongRecasting _recasting;

    /// <summary>Measures a recasting.</summary>
    public RecastMeasures(SongRecasting recasting)
    {
        _recasting = recasting;
        for (var i = 0; i < recasting.Stretches.Count; i++)
        {
            Measure(i, recasting.Stretches[i]);
        }
    }

    /// <summary>The strong places of the source on which a note of the tune begins, or over which one is held.</summary>
    public int StrongBeats { get; private set; }

    /// <summary>Those that are strong places of the target, where the same note begins or is held.</summary>
    public int StrongBeatsKept { get; private set; }

    /// <summary>The figures that turned or became even, in all lines.</summary>
    public List<TurnedFigure> Turned { get; } = [];

    /// <summary>The unstressed syllables on strong places of the target that had a weak place before.</summary>
    public List<SungPlace> WeakOnStrong { get; } = [];

    /// <summary>The stressed syllables that stood on a strong place and no longer do.</summary>
    public List<SungPlace> StressedOffStrong { get; } = [];

    /// <summary>The unstressed syllables that became longer in relation to a stressed neighbour, by more than 7 %, and longer than it.</summary>
    public List<SungPlace> WeakLengthened { get; } = [];

    /// <summary>How far the notes of the tune moved in their spans, in sixteenths of the source, added up.</summary>
    public double SwapDistance { get; private set; }

    /// <summary>The area between the curves of the lengths of the tune's intervals, in squares of sixteenths of the source.</summary>
    public double ChronotonicDistance { get; private set; }

    /// <summary>The syncopation of the tune in the source: for each note that is held, or followed by silence, over a stronger place than its own, by how many levels of
    /// metrical weight it is stronger, added up. Longuet-Higgins and Lee 1984.</summary>
    public int SyncopationBefore { get; private set; }

    /// <summary>The same in the result.</summary>
    public int SyncopationAfter { get; private set; }

    /// <summary>The duration of the shortest syllable in the result, in seconds; null without words.</summary>
    public double? ShortestSyllable { get; private set; }

    /// <summary>The breaths of the source, of at least 300 ms, in the tune.</summary>
    public int Breaths { get; private set; }

    /// <summary>Those that still have 300 ms.</summary>
    public int BreathsKept { get; private set; }

    /// <summary>The notes of the tune that moved most in their spans, the farthest first, each with the distance in sixteenths of the source.</summary>
    public IReadOnlyList<(int Stretch, int Note, double Distance)> MovedMost =>
        [.. _moved.Where(one => Math.Abs(one.Distance) > 1e-9).OrderByDescending(one => Math.Abs(one.Distance))];

    private readonly List<(int Stretch, int Note, double Distance)> _moved = [];

    /// <summary>The duration of the first bar of a stretch, in seconds.</summary>
    /// <param name="stretch">The stretch.</param>
    public double BarSeconds(RecastStretch stretch) =>
        stretch.Treatment.To.Length.Wholes.ToDouble() * Minute / _recasting.Seams[stretch.Section].After.ToDouble();

    private void Measure(int index, RecastStretch stretch)
    {
        for (var line = 0; line < stretch.Lines.Count; line++)
        {
            Figures(index, line, stretch.Lines[line]);
        }

        if (stretch.Lines.Count == 0)
        {
            return;
        }

        var notes = stretch.Lines[0];
        SyncopationBefore += Syncopation([.. notes.Select(note => note.From)], BarsOf(_recasting.Source, stretch));
        SyncopationAfter += Syncopation([.. notes.Select(note => note.To)], BarsOf(_recasting.Result, stretch));
        for (var i = 0; i < notes.Count; i++)
        {
            Strong(stretch, notes[i]);
            // A note that kept its distance from its beat has not moved.
            var distance = notes[i].Phrase is null ? 0 : (stretch.BackInSource(notes[i].To) - notes[i].From).Wholes.ToDouble() * SixteenthsInWhole;
            _moved.Add((index, i, distance));
            SwapDistance += Math.Abs(distance);
        }

        ChronotonicDistance += Area(
            [.. notes.Select(note => note.From.Wholes.ToDouble() * SixteenthsInWhole)],
            [.. notes.Select(note => stretch.BackInSource(note.To).Wholes.ToDouble() * SixteenthsInWhole)]);
        Sung(index, stretch, notes);
    }

    private void Strong(RecastStretch stretch, RecastNote note)
    {
        foreach (var strong in stretch.StrongPlaces(note.From, note.From + note.FromLength))
        {
            StrongBeats++;
            var place = stretch.SameShare(strong);
            var isThere = strong == note.From ? note.To == place : note.To <= place && note.To + note.ToLength > place;
            StrongBeatsKept += isThere && stretch.IsStrongInTarget(place) ? 1 : 0;
        }
    }

    private void Figures(int stretch, int line, IReadOnlyList<RecastNote> notes)
    {
        for (var i = 1; i + 1 < notes.Count; i++)
        {
            var (before, middle, after) = (notes[i - 1], notes[i], notes[i + 1]);
            if (before.Phrase != middle.Phrase || middle.Phrase != after.Phrase)
            {
                continue;
            }

            var was = (middle.From - before.From).CompareTo(after.From - middle.From);
            var now = (middle.To - before.To).CompareTo(after.To - middle.To);
            if (was != 0 && Math.Sign(was) != Math.Sign(now))
            {
                Turned.Add(new TurnedFigure(stretch, line, i, now != 0));
            }
        }
    }

    private void Sung(int index, RecastStretch stretch, IReadOnlyList<RecastNote> notes)
    {
        var whole = Minute / _recasting.Seams[stretch.Section].After.ToDouble();
        var wholeBefore = Minute / _recasting.Seams[stretch.Section].Before.ToDouble();
        var verses = TuneOf(stretch)?.Verses ?? [];
        for (var i = 0; i + 1 < notes.Count; i++)
        {
            if ((notes[i + 1].From - notes[i].From - notes[i].FromLength).Wholes.ToDouble() * wholeBefore >= Breath)
            {
                Breaths++;
                BreathsKept += (notes[i + 1].To - notes[i].To - notes[i].ToLength).Wholes.ToDouble() * whole >= Breath - 1e-9 ? 1 : 0;
            }
        }

        for (var verse = 0; verse < verses.Count; verse++)
        {
            for (var i = 0; i < notes.Count; i++)
            {
                if (verses[verse][i] is not { } syllable)
                {
                    continue;
                }

                var last = notes[Math.Min(i + syllable.Notes - 1, notes.Count - 1)];
                var seconds = (last.To + last.ToLength - notes[i].To).Wholes.ToDouble() * whole;
                ShortestSyllable = Math.Min(seconds, ShortestSyllable ?? seconds);
                var stress = notes[i].Stresses[verse];
                var isStrong = stretch.IsStrongInTarget(notes[i].To);
                if (stress == SyllableStress.Unstressed && isStrong && !notes[i].IsStrong)
                {
                    WeakOnStrong.Add(new SungPlace(index, verse, i));
                }

                if (stress == SyllableStress.Stressed && notes[i].IsStrong && !isStrong)
                {
                    StressedOffStrong.Add(new SungPlace(index, verse, i));
                }

                if (stress == SyllableStress.Unstressed && (IsLengthened(notes, verse, i, i - 1) || IsLengthened(notes, verse, i, i + 1)))
                {
                    WeakLengthened.Add(new SungPlace(index, verse, i));
                }
            }
        }
    }

    private static bool IsLengthened(IReadOnlyList<RecastNote> notes, int verse, int weak, int stressed)
    {
        if (stressed < 0 || stressed >= notes.Count || notes[stressed].Stresses[verse] != SyllableStress.Stressed)
        {
            return false;
        }

        var before = Math.Log2(notes[weak].FromLength.Wholes.ToDouble() / notes[stressed].FromLength.Wholes.ToDouble());
        var after = Math.Log2(notes[weak].ToLength.Wholes.ToDouble() / notes[stressed].ToLength.Wholes.ToDouble());
        return after > 0 && after > before + HeardLengthening;
    }

    private static IReadOnlyList<ChartBar> BarsOf(Chart chart, RecastStretch stretch)
    {
        var section = chart.Sections[stretch.Section];
        return stretch.Ending == 0 ? section.Bars : section.Endings[stretch.Ending - 1].Bars;
    }

    private static int Syncopation(List<Span> onsets, IReadOnlyList<ChartBar> bars)
    {
        var sum = 0;
        var (bar, start) = (0, Span.Zero);
        var note = 0;
        while (note < onsets.Count && onsets[note] < Span.Zero)
        {
            note++;
        }

        // The places of the units, in order; a note reaches up to the next one.
        for (; note < onsets.Count && bar < bars.Count; note++)
        {
            while (bar < bars.Count && onsets[note] >= start + bars[bar].Meter.Length)
            {
                start += bars[bar++].Meter.Length;
            }

            if (bar == bars.Count)
            {
                break;
            }

            var own = bars[bar].Meter.WeightAt(onsets[note] - start);
            var stronger = own;
            var until = note + 1 < onsets.Count ? onsets[note + 1] : start + bars[bar].Meter.Length;
            for (var (at, from) = (bar, start); at < bars.Count && from < until; from += bars[at++].Meter.Length)
            {
                var meter = bars[at].Meter;
                for (var unit = 0; unit < meter.Units && from + (meter.Unit * unit) < until; unit++)
                {
                    stronger = from + (meter.Unit * unit) > onsets[note] ? Math.Max(stronger, -meter.UnitDepths[unit]) : stronger;
                }
            }

            sum += stronger - own;
        }

        return sum;
    }

    private Tune? TuneOf(RecastStretch stretch)
    {
        var section = _recasting.Source.Sections[stretch.Section];
        return stretch.Ending == 0 ? section.Tune : section.Endings[stretch.Ending - 1].Tune;
    }

    // The curves have at each place the length of the interval it lies in, from the first onset of both to the last.
    private static double Area(IReadOnlyList<double> was, IReadOnlyList<double> now)
    {
        if (was.Count < 2)
        {
            return 0;
        }

        var area = 0.0;
        var (i, j) = (0, 0);
        var at = Math.Max(was[0], now[0]);
        var end = Math.Min(was[^1], now[^1]);
        while (at < end - 1e-12)
        {
            while (i + 2 < was.Count && was[i + 1] <= at + 1e-12)
            {
                i++;
            }

            while (j + 2 < now.Count && now[j + 1] <= at + 1e-12)
            {
                j++;
            }

            var next = Math.Min(end, Math.Min(was[i + 1], now[j + 1]));
            area += (next - at) * Math.Abs(was[i + 1] - was[i] - (now[j + 1] - now[j]));
            at = next;
        }

        return area;
    }
}
