using GrooveLab.Music.Band;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Charts;

/// <summary>Changes of a whole chart; each returns a new chart and leaves the old one unchanged.</summary>
public static class ChartChanges
{
    private const int MostOctaves = 3;

    /// <summary>The chart with key, chords and tune transposed by an interval. A section with its own key is spelled in that key: if the
    /// interval leads to a key with more than seven sharps or flats, the section moves to the same key with fewer. A part whose instrument
    /// could play the tune but no longer can plays it in the nearest octave where it can, if any.</summary>
    public static Chart Transposed(this Chart chart, Interval interval)
    {
        if (interval == Interval.Unison)
        {
            return chart;
        }

        var last = chart.Sections[(chart.Tag.Count > 0 ? chart.Tag : chart.Form)[^1].Section];
        var moved = chart with
        {
            Key = Moved(chart.Key, interval).Key,
            EndingChord = chart.EndingChord?.Transpose(Moved(last.Key ?? chart.Key, interval).By),
            Sections = [.. chart.Sections.Select(section => Transposed(section, section.Key ?? chart.Key, interval))],
        };
        return moved with { Parts = [.. chart.Parts.Select(part => CanPlayTune(chart, part) ? InReach(moved, part) : part)] };
    }

    /// <summary>True when the lines of the tune that a part plays are in the range of its instrument, in the octave in which it
    /// plays.</summary>
    /// <param name="chart">The chart.</param>
    /// <param name="part">A part of the band as it is or would be; one with a new name joins the band.</param>
    public static bool CanPlayTune(this Chart chart, Part part) => !chart.LinesBeyond(part).Any();

    /// <summary>The lines that a part plays and that leave the range of its instrument, with their sections; line 0 is the tune
    /// itself.</summary>
    /// <param name="chart">The chart.</param>
    /// <param name="part">A part of the band as it is or would be; one with a new name joins the band.</param>
    public static IEnumerable<(Section Section, int Line)> LinesBeyond(this Chart chart, Part part)
    {
        var parts = chart.Parts.ToList();
        var index = parts.FindIndex(other => other.Name == part.Name);
        if (index < 0)
        {
            (index, parts) = (parts.Count, [.. parts, part]);
        }

        parts[index] = part;
        for (var i = 0; i < chart.Sections.Count; i++)
        {
            var section = chart.Sections[i];
            var moves = chart.Form.Concat(chart.Tag).Where(step => step.Section == i).Select(step => step.Up).Append(0).Distinct()
                .Select(up => up == 0 ? 0 : section.KeyIn(chart).IntervalUp(up).Semitones);
            foreach (var line in moves.SelectMany(up => section.LinesBeyond(parts, index, up)).Distinct())
            {
                yield return (section, line);
            }
        }
    }

    /// <summary>The lines of a section's tune and of its endings that a part plays and that, moved by half steps, leave the range of its
    /// instrument.</summary>
    /// <param name="section">The section.</param>
    /// <param name="parts">The band.</param>
    /// <param name="part">The index of the part.</param>
    /// <param name="up">Half steps up.</param>
    public static IEnumerable<int> LinesBeyond(this Section section, IReadOnlyList<Part> parts, int part, int up)
    {
        if (section.Tune is not { } tune || parts[part].Settings is not TuneSettings settings)
        {
            return [];
        }

        var instrument = parts[part].Instrument;
        var moved = up + (12 * settings.Octaves);

        // The only line gives the first note in the lead-in also on a part that rests in the section.
        var playing = tune.Lines.Count == 0 ? null : section.Playing;
        return Enumerable.Range(0, tune.Lines.Count + 1)
            .Where(line => TunePlayers.PlayersOf(parts, playing, line, tune.Lines.Count).Contains(part))
            .Where(line => section.Endings.Select(ending => VoiceOf(ending.Tune, line)).Prepend(tune.Voice(line))
                .SelectMany(voice => voice?.Notes ?? [])
                .SelectMany(note => note.Graces.Append(note.Pitch))
                .Any(pitch => pitch.Midi + moved < instrument.Lowest || pitch.Midi + moved > instrument.Highest));

        TuneVoice? VoiceOf(Tune? ending, int line) => line == 0 ? ending?.Melody : ending?.Lines.FirstOrDefault(voice => voice.Name == tune.Lines[line - 1].Name);
    }

    /// <summary>The key of a section.</summary>
    public static Key KeyIn(this Section section, Chart chart) => section.Key ?? chart.Key;

    /// <summary>A section as played with one of its endings; itself when it has none.</summary>
    /// <param name="section">The section.</param>
    /// <param name="ending">The number of the ending, from 1.</param>
    /// <param name="verse">Which of the ending's verses, from 0.</param>
    /// <exception cref="ChartProblemException">The ending's pickup has no rest to fill.</exception>
    public static Section WithEnding(this Section section, int ending, int verse = 0) =>
        section.Endings.Count == 0 ? section : PlayedSections.With(section, section.Endings[ending - 1], verse);

    /// <summary>True when a line of a section with endings ends in a tie that no ending continues.</summary>
    /// <param name="section">The section, with a tune.</param>
    /// <param name="line">The line; 0 is the tune itself.</param>
    public static bool EndsInAnOpenTie(this Section section, int line) => PlayedSections.EndsInAnOpenTie(section, line);

    /// <summary>The chart with one felt level throughout.</summary>
    public static Chart FeltAs(this Chart chart, FeltLevel felt) => chart with
    {
        Feel = felt,
        Sections = [.. chart.Sections.Select(section => section with { Feel = null })],
    };

    /// <summary>The chart with felt and counted levels written into every played section, as derived at the chart's own tempo.</summary>
    /// <exception cref="ChartProblemException">The chart cannot be played.</exception>
    public static Chart WithLevelsSaid(this Chart chart)
    {
        var plan = new FormPlan(chart);
        var levels = new Dictionary<int, (FeltLevel Felt, Counted Counted)>();
        for (var bar = 0; bar < plan.BarsInPass; bar++)
        {
            // Where the level changes inside a section: the lowest felt level, and what is counted at the start.
            var place = plan.BarAt(bar);
            levels[place.Run.SectionIndex] = levels.TryGetValue(place.Run.SectionIndex, out var found)
                ? (place.Felt < found.Felt ? place.Felt : found.Felt, found.Counted)
                : (place.Felt, place.Counted);
        }

        return chart with
        {
            Sections =
            [
                .. chart.Sections.Select((section, index) => levels.TryGetValue(index, out var level)
                    ? section with { Feel = level.Felt, Counted = level.Counted }
                    : section),
            ],
        };
    }

    /// <summary>The chart at another tempo: it starts at that tempo, and its other tempi keep their ratio to it.</summary>
    /// <exception cref="ChartProblemException">A tempo cannot be played.</exception>
    public static Chart AtTempo(this Chart chart, TempoMark tempo)
    {
        var other = chart.AtPace(chart.PaceOf(tempo));
        return chart.Sections[chart.Form[0].Section].Tempo?.From is null ? other with { Tempo = tempo } : other;
    }

    /// <summary>The factor by which a tempo at the start differs from the chart's own.</summary>
    /// <exception cref="ChartProblemException">The tempo does not suit the first bar, or is out of range.</exception>
    public static Rational PaceOf(this Chart chart, TempoMark tempo)
    {
        var first = chart.Sections[chart.Form[0].Section];
        var begins = first.Tempo?.From ?? chart.Tempo;
        // The tempo of a single bar, before any ramp has begun.
        var alone = chart with
        {
            Sections = [first with { Tempo = null, Ramps = [], Join = null, HoldSeconds = 0 }],
            Form = [new FormStep(0, 1)],
            Tag = [],
            Times = 1,
        };
        return Begins(tempo) / Begins(begins);

        Rational Begins(TempoMark mark) => new FormPlan(alone with { Tempo = mark }).BarAt(0).Tempo.WholesPerMinute;
    }

    /// <summary>The chart with all its tempi multiplied by a factor; itself when the factor is 1.</summary>
    /// <param name="chart">The chart.</param>
    /// <param name="factor">The factor, above zero.</param>
    /// <param name="largestDenominator">For tempi to be displayed: a number with a larger denominator is rounded to this one, such as
    /// 1000 for three decimals. Null keeps all exact.</param>
    public static Chart AtPace(this Chart chart, Rational factor, long? largestDenominator = null)
    {
        return factor == Rational.One ? chart : chart with
        {
            Tempo = Scaled(chart.Tempo),
            Sections = [.. chart.Sections.Select(section => section.AtPace(factor, largestDenominator))],
        };

        TempoMark Scaled(TempoMark mark) => Times(mark, factor, largestDenominator);
    }

    /// <summary>The section with all its tempi multiplied by a factor.</summary>
    internal static Section AtPace(this Section section, Rational factor, long? largestDenominator = null)
    {
        return section.Tempo is null && section.Ramps.Count == 0 ? section : section with
        {
            Tempo = section.Tempo is not { } change ? null : change with
            {
                From = change.From is { } from ? Scaled(from) : null,
                To = change.To is { } to ? Scaled(to) : null,
                After = After(change.After),
            },
            Ramps = section.Ramps.Count == 0 ? section.Ramps : [.. section.Ramps.Select(ramp => ramp with { To = Scaled(ramp.To), After = After(ramp.After) })],
        };

        TempoMark Scaled(TempoMark mark) => Times(mark, factor, largestDenominator);
        TempoAfter? After(TempoAfter? after) => after is { Mark: { } mark } ? new TempoAfter(Scaled(mark)) : after;
    }

    /// <summary>The names of the sections that state a tempo: at their start, as the goal of a gradual change, or after it.</summary>
    public static IReadOnlyList<string> SectionsWithTempi(this Chart chart) =>
    [
        .. chart.Sections
            .Where(section => section.Ramps.Count > 0 || section.Tempo is { From: not null } or { To: not null } or { After.Mark: not null })
            .Select(section => section.Name),
    ];

    internal static TempoMark Times(TempoMark mark, Rational factor, long? largestDenominator)
    {
        return mark with { PerMinute = Readable(mark.PerMinute * factor) };
        Rational Readable(Rational figure) => largestDenominator is { } most && figure.Denominator > most ? new Rational((figure * most).Round(), most) : figure;
    }

    /// <summary>The part in the octave nearest to its own in which its instrument can play the tune; the same part if it need not play it,
    /// or cannot.</summary>
    public static Part InReach(this Chart chart, Part part) => part.Settings is not TuneSettings tune ? part
        : Enumerable.Range(-MostOctaves, (2 * MostOctaves) + 1)
            .OrderBy(octaves => Math.Abs(octaves - tune.Octaves))
            .Select(octaves => part with { Settings = tune with { Octaves = octaves } })
            .FirstOrDefault(other => CanPlayTune(chart, other)) ?? part;

    /// <summary>A section moved by half steps, in a key of its own.</summary>
    internal static Section TransposedBy(Section section, Key key, int halfSteps) =>
        Transposed(section with { Key = key }, key, key.IntervalUp(halfSteps));

    internal static Section Transposed(Section section, Key key, Interval interval)
    {
        var (moved, by) = Moved(key, interval);
        return section with
        {
            Key = section.Key is null ? null : moved,
            Bars = Bars(section.Bars),
            Tune = section.Tune?.Transposed(by),
            Endings = section.Endings.Count == 0 ? section.Endings
                : [.. section.Endings.Select(ending => new SectionEnding(Bars(ending.Bars), ending.Tune?.Transposed(by)))],
        };

        IReadOnlyList<ChartBar> Bars(IReadOnlyList<ChartBar> bars) =>
        [
            .. bars.Select(Bar),
        ];

        ChartBar Bar(ChartBar bar) => bar with
        {
            Chords = [.. bar.Chords.Select(chord => chord with { Symbol = chord.Symbol.Transpose(by) })],
            Before = bar.Before is { } before ? Bar(before) : null,
        };
    }

    // The key an interval away, and the interval to it: of the same semitones, spelled for both keys. A section's own key may need more
    // than seven sharps or flats even if the chart's key does not.
    internal static (Key Key, Interval By) Moved(Key key, Interval interval)
    {
        if (!Key.TryParse($"{key.Tonic.Transpose(interval).Simplified()} {key.Mode}", out var moved, out _))
        {
            moved = key.Up(interval.Semitones);
        }

        var letters = PitchName.Modulo((int)moved.Tonic.Letter - (int)key.Tonic.Letter - interval.Steps, 7);
        return (moved, interval with { Steps = interval.Steps + (letters > 3 ? letters - 7 : letters) });
    }
}
