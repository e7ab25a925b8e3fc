using System.Globalization;
using System.Text;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;

namespace GrooveLab.Exchange.Tests.Import;

/// <summary>A score and a chart played out, each by itself, as lists that can be compared. The score's side uses the unfolded measures
/// and the sounding notes only, nothing of the chart maker.</summary>
internal static class PlayedOut
{
    /// <summary>The notes of a voice of a score: place from the first full measure, tied length, pitch as spelled, grace notes, and the
    /// syllable of a verse that is the given number of times through later.</summary>
    public static List<string> Notes(WrittenMusic music, int part, string voice, int lap)
    {
        var order = Unfolding.Order(music.Measures);
        var plays = order.GroupBy(played => played.Measure).ToDictionary(group => group.Key, group => group.Count());
        var open = false;
        for (var m = 0; m < music.Measures.Count; m++)
        {
            // An ending belongs to the playings of what it ends.
            open |= music.Measures[m].Marks.OfType<EndingMark>().Any(mark => mark.Edge == EndingEdge.Start);
            if (open && plays.ContainsKey(m))
            {
                plays[m] = plays[m - 1];
            }

            open &= !music.Measures[m].Marks.OfType<EndingMark>().Any(mark => mark.Edge != EndingEdge.Start);
        }

        var lead = LeadOf(music, order);
        return
        [
            .. SoundingNotes.OfVoice(music, part, voice, order).GroupBy(note => note.Onset).OrderBy(group => group.Key)
                .Select(group => group.MaxBy(note => note.Note.Pitch!.Value.Sound)!)
                .Select(note => Line(
                    note.Onset - lead,
                    note.Length,
                    note.Note.Pitch!.Value.Plain!.Value,
                    note.GracesBefore.Select(grace => grace.Event.Notes[0].Pitch!.Value.Plain!.Value),
                    Syllable(music.Parts[part].Measures[note.Played.Measure], voice, note, (lap * plays[note.Played.Measure]) + note.Played.Verse))),
        ];
    }

    /// <summary>The same of a chart.</summary>
    public static List<string> Notes(Chart chart, string line, int lap)
    {
        var plan = new FormPlan(chart);
        var notes = new List<(Span Onset, string Text)>();
        var start = plan.PassLength * lap;
        foreach (var run in Runs(plan).Where(run => run.FirstBar >= plan.BarsInPass * lap && run.FirstBar < plan.BarsInPass * (lap + 1)))
        {
            if (run.Section.Tune is not { } tune)
            {
                continue;
            }

            var voice = line == "tune" ? tune.Melody : tune.Lines.FirstOrDefault(one => one.Name == line);
            var at = (run.Start - Position.Zero) - start;
            for (var i = 0; voice is not null && i < voice.Notes.Count; i++)
            {
                var note = voice.Notes[i];
                var syllable = voice.Verses.Count == 0 ? null : voice.Verses[run.Verse % voice.Verses.Count].ElementAtOrDefault(i);
                notes.Add((at + note.Onset, Line(at + note.Onset, note.Length, note.Pitch, note.Graces, syllable?.Text)));
            }
        }

        return [.. notes.OrderBy(note => note.Onset).Select(note => note.Text)];
    }

    /// <summary>True when a note of a chart sounds on into a pickup, which would cut it.</summary>
    public static bool CutsNotes(Chart chart)
    {
        var plan = new FormPlan(chart);
        var runs = Runs(plan).TakeWhile(run => run.FirstBar < plan.BarsInPass).ToList();
        for (var i = 1; i < runs.Count; i++)
        {
            var pickup = runs[i].Section.Tune?.PickupLength ?? Span.Zero;
            var length = runs[i].Start - runs[i - 1].Start;
            var last = runs[i - 1].Section.Tune is { } tune ? tune.Lines.Prepend(tune.Melody).SelectMany(voice => voice.Notes).Select(note => note.Onset + note.Length).DefaultIfEmpty(Span.Zero).Max() : Span.Zero;
            if (pickup > Span.Zero && last > length - pickup)
            {
                return true;
            }
        }

        return false;
    }

    /// <summary>The bars of a chart's first time through: meter, tempo, key and chords.</summary>
    public static List<string> Bars(Chart chart)
    {
        var plan = new FormPlan(chart);
        return
        [
            .. Enumerable.Range(0, plan.BarsInPass).Select(plan.BarAt).Select(bar =>
                $"{bar.Meter.Signature} {bar.Tempo.WholesPerMinute} {bar.Run.Key} {Chords(bar.Chords.Select(chord => (chord.Onset, chord.Symbol)))}"),
        ];
    }

    /// <summary>The same of a score without divided measures, in plain meters.</summary>
    public static List<string> Bars(WrittenMusic music, Key key, Tempo assumed)
    {
        var order = Unfolding.Order(music.Measures);
        var bars = new List<string>();
        var (at, open) = (Span.Zero, new List<(Span, ChordSymbol)>());
        var chord = ChordSymbol.NoChord;
        var tempo = assumed;
        var seen = new Dictionary<int, (ChordSymbol, Tempo)>();
        var lead = LeadOf(music, order);
        for (var i = 0; i < order.Count; i++)
        {
            var m = order[i].Measure;
            if (i > 0 && m <= order[i - 1].Measure && seen.TryGetValue(m, out var then))
            {
                (chord, tempo) = then;
            }

            seen.TryAdd(m, (chord, tempo));
            var meter = music.MeterAt(m)!.Length!.Value;
            var length = music.LengthOf(m)!.Value;
            tempo = music.Measures[m].Marks.OfType<TempoSign>().FirstOrDefault()?.Tempo ?? tempo;
            if (at == Span.Zero)
            {
                open = [(Span.Zero, chord)];
            }

            foreach (var mark in music.Measures[m].Chords)
            {
                chord = ChordSymbol.Parse(mark.Chords[0].Text!);
                open.RemoveAll(one => one.Item1 == at + mark.At);
                if (open.Count == 0 || !open[^1].Item2.Equals(chord))
                {
                    open.Add((at + mark.At, chord));
                }
            }

            if (i == 0 && lead > Span.Zero)
            {
                continue;
            }

            at += length;
            var divided = length < meter && at < meter && (i == order.Count - 1 ? at == length
                : at == length && music.MeterAt(order[i + 1].Measure)!.Equals(music.MeterAt(m)) && at + music.LengthOf(order[i + 1].Measure)!.Value == meter);
            if (divided && i < order.Count - 1)
            {
                continue;
            }

            var bar = divided ? meter : at;
            bars.Add($"{SignatureOf(bar, music.MeterAt(m)!.Pairs[0].BeatType)} {tempo.WholesPerMinute} {key} {Chords(open)}");
            at = Span.Zero;
        }

        return bars;
    }

    // In the meter's own units if they fit.
    private static string SignatureOf(Span bar, int unit)
    {
        while (!(bar / Span.Of(1, unit)).IsInteger)
        {
            unit *= 2;
        }

        return $"{bar / Span.Of(1, unit)}/{unit}";
    }

    private static string Chords(IEnumerable<(Span Onset, ChordSymbol Symbol)> chords) => string.Join(' ', chords.Select(chord => $"{chord.Onset}:{chord.Symbol}"));

    private static IEnumerable<SectionRun> Runs(FormPlan plan) =>
        Enumerable.Range(0, plan.Bars).Select(plan.BarAt).Where(bar => bar.IndexInRun == 0).Select(bar => bar.Run);

    private static Span LeadOf(WrittenMusic music, IReadOnlyList<PlayedMeasure> order) =>
        order.Count > 1 && music.MeterAt(order[0].Measure)?.Length is { } full && music.LengthOf(order[0].Measure) is { } length && length < full ? length : Span.Zero;

    private static string? Syllable(PartMeasure measure, string voice, SoundingNote note, int verse)
    {
        var numbers = measure.Voices.Where(one => one.Name == voice).SelectMany(one => one.Events).SelectMany(one => one.Lyrics)
            .Where(lyric => lyric.Parts.Count > 0).Select(lyric => lyric.Number!).Distinct().Order(StringComparer.Ordinal).ToList();
        if (numbers.Count == 0)
        {
            return null;
        }

        var number = verse.ToString(CultureInfo.InvariantCulture);
        var wanted = numbers.Contains(number) ? number : numbers[(verse - 1) % numbers.Count];
        return note.Event.Lyrics.FirstOrDefault(lyric => lyric.Number == wanted) is { Parts.Count: > 0 } sung ? sung.Text : null;
    }

    private static string Line(Span onset, Span length, Pitch pitch, IEnumerable<Pitch> graces, string? syllable)
    {
        var text = new StringBuilder();
        foreach (var grace in graces)
        {
            text.Append('(').Append(grace).Append(')');
        }

        return text.Append(CultureInfo.InvariantCulture, $"{pitch} at {onset} for {length} {syllable ?? "*"}").ToString();
    }
}
