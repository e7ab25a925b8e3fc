using GrooveLab.Exchange.Charts;
using GrooveLab.Music.Band;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Performance;
using GrooveLab.Music.Time;

namespace GrooveLab.Store;

/// <summary>
/// Writes what was changed while playing into the chart's own text: only what differs, so that remarks and layout stay. Levels and pans are
/// written; what is muted, where the form stands and the level of the whole are of the moment and are not.
/// </summary>
internal static class ChartSaver
{
    /// <summary>The text with the changes.</summary>
    /// <param name="document">The text that was opened.</param>
    /// <param name="opened">The state with which it was opened.</param>
    /// <param name="now">The state to write.</param>
    /// <param name="whole">True when the text had to be written anew, without its remarks and layout.</param>
    public static ChartDocument Written(ChartDocument document, PerformanceState opened, PerformanceState now, out bool whole)
    {
        var chart = AtTempo(now);
        whole = false;
        try
        {
            var written = SayingFeel(Changed(document, opened.Chart, chart), chart);
            if (written.Read() is { IsChart: true } read && SameMusic(read.Chart, chart))
            {
                return written;
            }
        }
        catch (ChartProblemException)
        {
            // What cannot be changed in place is written anew below.
        }

        whole = true;
        return ChartDocument.FromChart(chart, document.Name, now.Instruments);
    }

    /// <summary>The chart with the tempo as it sounds written into it; three decimals are more than anybody hears.</summary>
    public static Chart AtTempo(PerformanceState state) =>
        state.Chart.AtPace(state.Pace, largestDenominator: 1000);

    private static ChartDocument Changed(ChartDocument document, Chart before, Chart now)
    {
        if (before.Key != now.Key)
        {
            document = document.WithKey(now.Key);
        }

        if (before.Tempo != now.Tempo)
        {
            document = document.WithTempo(now.Tempo);
        }

        if (before.EndingChord?.Text != now.EndingChord?.Text && now.EndingChord is { } ending)
        {
            document = document.WithEnding(ending);
        }

        document = Meters(document, before, now);
        if (before.Feel != now.Feel || before.Sections.Zip(now.Sections).Any(pair => pair.First.Feel is not null && pair.Second.Feel is null))
        {
            document = document.WithFeel(now.Feel);
            document = now.Sections.Aggregate(document, (text, section) => text.WithFeel(null, section.Name));
        }

        foreach (var (old, section) in before.Sections.Zip(now.Sections))
        {
            if (old.Key is not null && section.Key is { } key && old.Key != key)
            {
                document = document.WithKey(key, section.Name);
            }

            if (old.Tempo != section.Tempo)
            {
                document = document.WithTempo(section.Name, section.Tempo);
            }

            if (ChordText(old) != ChordText(section))
            {
                document = document.WithChords(section.Name, ChordText(section));
            }

            if (!ReferenceEquals(old.Tune, section.Tune))
            {
                document = document.WithTune(section.Name, null);
                document = section.Tune is { } tune ? document.WithTune(section.Name, tune) : document;
            }
        }

        return Band(document, before, now);
    }

    private static ChartDocument Band(ChartDocument document, Chart before, Chart now)
    {
        // Who left and came back sits at the end now.
        var stays = new List<Part>();
        var at = 0;
        foreach (var part in now.Parts)
        {
            var found = before.Parts.Skip(at).ToList().FindIndex(old => old.Name == part.Name);
            if (found >= 0)
            {
                at += found + 1;
                stays.Add(part);
            }
        }

        foreach (var part in now.Parts.Where(part => before.Parts.FirstOrDefault(old => old.Name == part.Name) != part || !stays.Contains(part)))
        {
            document = !stays.Contains(part) && before.Parts.Any(old => old.Name == part.Name) ? document.WithoutPart(part.Name) : document;
            document = document.WithPart(part);
        }

        foreach (var part in before.Parts.Where(old => now.Parts.All(part => part.Name != old.Name)))
        {
            document = document.WithoutPart(part.Name);
        }

        if (!before.Parts.Select(part => part.Name).SequenceEqual(now.Parts.Select(part => part.Name))
            && now.Sections.Any(section => section.Playing is not null)
            && document.Read() is { IsChart: true } read)
        {
            foreach (var (found, wanted) in read.Chart.Sections.Zip(now.Sections))
            {
                if (wanted.Playing is { } playing && !SamePlayers(found.Playing, playing))
                {
                    document = document.WithPlaying(wanted.Name, [.. playing.Select(part => now.Parts[part].Name)]);
                }
            }
        }

        return document;
    }

    private static bool SamePlayers(IReadOnlyList<int>? a, IReadOnlyList<int>? b) => a is null || b is null ? a is null && b is null : a.SequenceEqual(b);

    // Which level is felt may have been left to the tempo; with another tempo it has to be said.
    private static ChartDocument SayingFeel(ChartDocument document, Chart now)
    {
        if (document.Read() is not { IsChart: true } read)
        {
            return document;
        }

        foreach (var (found, wanted) in read.Chart.WithLevelsSaid().Sections.Zip(now.Sections))
        {
            if ((wanted.Feel ?? now.Feel) is { } felt && (found.Feel ?? read.Chart.Feel) != felt)
            {
                document = document.WithFeel(felt, wanted.Name);
            }
        }

        return document;
    }

    private static ChartDocument Meters(ChartDocument document, Chart before, Chart now)
    {
        var changed = before.Sections.Zip(now.Sections)
            .Where(pair => !pair.First.Bars.Select(bar => bar.Meter).SequenceEqual(pair.Second.Bars.Select(bar => bar.Meter)))
            .Select(pair => pair.Second).ToList();
        if (changed.Count == 0)
        {
            return document;
        }

        var all = now.Sections.SelectMany(section => section.Bars).Select(bar => bar.Meter).Distinct().ToList();
        var old = before.Sections.SelectMany(section => section.Bars).Select(bar => bar.Meter).Distinct().ToList();
        if (all.Count == 1 && old.Count == 1)
        {
            return document.WithMeter(all[0]);
        }

        return changed.Aggregate(document, (text, section) =>
            section.Bars.Select(bar => bar.Meter).Distinct().Count() == 1
                ? text.WithMeter(section.Bars[0].Meter, section.Name)
                : text.WithMeters([.. section.Bars.Where(bar => !bar.Inserted).Select(bar => bar.Meter)], section.Name));
    }

    private static string ChordText(Section section)
    {
        const int BarsInLine = 4;
        var text = new System.Text.StringBuilder();
        for (var i = 0; i < section.Bars.Count; i++)
        {
            text.Append(i > 0 && i % BarsInLine == 0 ? "|\n" : string.Empty).Append("| ").Append(Marks(section.Bars[i])).Append(' ');
        }

        return text.Append('|').ToString();
    }

    private static string Marks(ChartBar bar)
    {
        var meter = bar.Meter;
        if (bar.Chords.Count == 1)
        {
            return bar.Chords[0].Symbol.Text;
        }

        if (bar.Chords.Count == meter.GroupStartUnits.Count
            && bar.Chords.Zip(meter.GroupStartUnits).All(pair => pair.First.Onset == meter.Unit * pair.Second))
        {
            return string.Join(' ', bar.Chords.Select(chord => chord.Symbol.Text));
        }

        var marks = Enumerable.Repeat("/", meter.Units).ToArray();
        foreach (var chord in bar.Chords)
        {
            marks[(int)(chord.Onset / meter.Unit).Floor()] = chord.Symbol.Text;
        }

        return string.Join(' ', marks);
    }

    // What was read back plays the same notes: every bar in meter, tempo and chords, and every part.
    private static bool SameMusic(Chart a, Chart b)
    {
        var (one, other) = (new FormPlan(a), new FormPlan(b.WithLevelsSaid()));
        return one.BarsInPass == other.BarsInPass
            && Enumerable.Range(0, one.BarsInPass).All(bar =>
                one.BarAt(bar) is var x && other.BarAt(bar) is var y
                && x.Meter == y.Meter && x.Tempo == y.Tempo && x.Felt == y.Felt
                && x.Chords.Select(Plain).SequenceEqual(y.Chords.Select(Plain)))
            && a.Sections.Zip(b.Sections).All(pair => SamePlayers(pair.First.Playing, pair.Second.Playing))
            && a.Parts.Select(Plain).SequenceEqual(b.Parts.Select(Plain));
    }

    private static (Span Onset, Span Length, string Text) Plain(ChordSpan chord) => (chord.Onset, chord.Length, chord.Symbol.Text);

    private static (string Name, Role Role, string Instrument, double Level, int Pan, RoleSettings Settings) Plain(Part part) =>
        (part.Name, part.Role, part.Instrument.Name, part.LevelDecibels, part.Pan, part.Settings);
}
