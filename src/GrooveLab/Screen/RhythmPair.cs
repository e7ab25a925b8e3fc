using GrooveLab.Audio.Conducting;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Performance;
using GrooveLab.Music.Time;

namespace GrooveLab.Screen;

/// <summary>The rhythm of a bar in one meter.</summary>
/// <param name="Meter">The meter.</param>
/// <param name="Bars">Where its bars begin, as shares of the whole, 0-1.</param>
/// <param name="Syllables">Where its syllables begin.</param>
internal sealed record PairedRhythm(string Meter, IReadOnlyList<double> Bars, IReadOnlyList<Sung> Syllables);

/// <summary>The rhythm of a bar of the song before it was moved into another meter, and after: the same syllables in both.</summary>
/// <param name="Was">Before.</param>
/// <param name="Now">After.</param>
/// <param name="IsNowHeard">True if the moved song is heard.</param>
/// <param name="From">Where the heard bar begins in it, as a share of the whole.</param>
/// <param name="To">Where the heard bar ends in it.</param>
internal sealed record RhythmPair(PairedRhythm Was, PairedRhythm Now, bool IsNowHeard, double From, double To)
{
    /// <summary>The pair of a bar without words, or with a rhythm that was changed since: its rows stay empty, so that the picture is not laid out again.</summary>
    public static RhythmPair None { get; } = new(new PairedRhythm(string.Empty, [], []), new PairedRhythm(string.Empty, [], []), true, 0, 1);

    /// <summary>The rhythms at a bar that is heard; null unless the song was moved, or one of the compared sides was.</summary>
    /// <param name="conductor">The conductor.</param>
    /// <param name="bar">The heard bar.</param>
    public static RhythmPair? Of(Conductor conductor, Bar bar)
    {
        var (sounding, plan) = (conductor.Sounding, conductor.SoundingRoute.Plan);
        var isNowHeard = !sounding.Recasts.IsEmpty;
        var other = isNowHeard ? sounding : conductor.History.NotHeard?.State;
        if (other is not { Recasts: [.., var move] } moved || (!isNowHeard && moved.Recasts.Count > 1) || (sounding.Chart.Ending && bar.Index == conductor.SoundingRoute.Source.End - 1))
        {
            return null;
        }

        if (bar.Index < 0)
        {
            return None;
        }

        var place = plan.BarAt(bar.Index);
        var (section, ending) = (place.Run.SectionIndex, place.Ending);
        var local = place.IndexInRun - (ending > 0 ? place.Run.EndingAt : 0);
        var written = moved.Chart.Sections[section];
        var (bars, tune) = ending > 0 ? (written.Endings[ending - 1].Bars, written.Endings[ending - 1].Tune) : (written.Bars, written.Tune);
        if (!move.Stretches.TryGetValue((section, ending), out var stretch) || stretch.Lines.Count == 0 || tune is null || tune.Verses.Count == 0 || (ending > 0 && tune.Verses.Count > 1)
            || !stretch.Lines[0].Select(note => note.To).SequenceEqual(tune.Notes.Select(note => note.Onset)))
        {
            return None;
        }

        var meters = move.Meters[(section, ending)];
        var source = isNowHeard ? move.Back(section, ending, local).Bar : local;
        var (first, end) = (stretch.FirstBarOf(source), stretch.FirstBarOf(source + 1));
        Span Lengths(int count) => bars.Take(count).Aggregate(Span.Zero, (sum, one) => sum + one.Meter.Length);
        var wasFrom = meters.Take(source).Aggregate(Span.Zero, (sum, meter) => sum + meter.Length);
        var (nowFrom, nowLength) = (Lengths(first), Lengths(end) - Lengths(first));
        double Was(Span at) => ((at - wasFrom) / meters[source].Length).ToDouble();
        double Now(Span at) => ((at - nowFrom) / nowLength).ToDouble();
        var verse = tune.Verses[place.Run.Verse % tune.Verses.Count];
        var (was, now) = (new List<Sung>(), new List<Sung>());
        foreach (var note in stretch.Lines[0])
        {
            if (verse[note.Note] is { } syllable && Was(note.From) is >= 0 and < 1)
            {
                var text = syllable.Place is SyllablePlace.Begin or SyllablePlace.Middle ? syllable.Text + "-" : syllable.Text;
                was.Add(new Sung(Was(note.From), text));
                now.Add(new Sung(Now(note.To), text));
            }
        }

        return was.Count == 0 ? None : new RhythmPair(
            new PairedRhythm(meters[source].Signature.ToString(), [0], was),
            new PairedRhythm(bars[first].Meter.Signature.ToString(), [.. Enumerable.Range(first, end - first).Select(number => Now(Lengths(number)))], now),
            isNowHeard,
            isNowHeard ? Now(Lengths(local)) : 0,
            isNowHeard ? Now(Lengths(local + 1)) : 1);
    }

    /// <summary>The syllable that is sung; -1 before the first.</summary>
    /// <param name="inBar">How far into the heard bar, 0 to 1.</param>
    public int Current(double inBar)
    {
        var at = From + (inBar * (To - From));
        return (IsNowHeard ? Now : Was).Syllables.Count(syllable => syllable.At <= at + 1e-9) - 1;
    }

    /// <summary>Draws both, the older one above.</summary>
    public void Draw(Canvas canvas, int row, double inBar)
    {
        var label = Math.Max(Was.Meter.Length, Now.Meter.Length);
        var left = label + 3;
        var right = canvas.Width - 2;
        if (Was.Syllables.Count == 0 || Places(Was, left, right) is not { } above || Places(Now, left, right) is not { } below)
        {
            // No room for the syllables.
            return;
        }

        var current = Current(inBar);
        DrawOne(canvas, row, Was, above, left, right, !IsNowHeard, current);
        DrawOne(canvas, row + 1, Now, below, left, right, IsNowHeard, current);
    }

    private static void DrawOne(Canvas canvas, int row, PairedRhythm one, IReadOnlyList<int> places, int left, int right, bool isHeard, int current)
    {
        canvas.Write(1, row, one.Meter, isHeard ? Ink.Strong : Ink.Plain);
        foreach (var bar in one.Bars)
        {
            canvas.Put(Column(bar, left, right) - 1, row, canvas.Ascii ? '|' : '│', Ink.Faint);
        }

        for (var i = 0; i < places.Count; i++)
        {
            canvas.Write(places[i], row, Cells.Of(one.Syllables[i].Text), i == current ? Ink.Strong : Ink.Plain, right);
        }
    }

    private static int Column(double at, int left, int right) => left + (int)Math.Round((right - left) * at);

    // A syllable begins below or behind its note, and no bar line goes through it; null if one would leave the row.
    private static List<int>? Places(PairedRhythm one, int left, int right)
    {
        var places = new List<int>();
        var free = left;
        foreach (var syllable in one.Syllables)
        {
            var at = Math.Max(free, Column(syllable.At, left, right));
            places.Add(at);
            free = at + Cells.Of(syllable.Text).Length + 1;
            if (free - 1 > right)
            {
                return null;
            }
        }

        return places;
    }
}
