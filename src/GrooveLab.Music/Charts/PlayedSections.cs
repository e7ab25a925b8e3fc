using GrooveLab.Music.Harmony;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Charts;

/// <summary>The sections of a chart as they are played: each with one of its endings, and transposed. Equal playings are the same
/// object.</summary>
/// <param name="chart">The chart.</param>
internal sealed class PlayedSections(Chart chart)
{
    private readonly Dictionary<(int Section, int Ending, int Verse, int Up), Section> _made = [];

    /// <summary>A section as played.</summary>
    /// <param name="index">Its index in the chart.</param>
    /// <param name="ending">The number of its ending, from 1; 0 for none.</param>
    /// <param name="verse">Which verse of the ending, from 0.</param>
    /// <param name="up">Half steps up.</param>
    /// <exception cref="ChartProblemException">The pickup of the ending has no rest to fill.</exception>
    public Section Of(int index, int ending, int verse, int up)
    {
        var written = chart.Sections[index];
        if (ending == 0 && up == 0)
        {
            return written;
        }

        if (!_made.TryGetValue((index, ending, verse, up), out var section))
        {
            section = ending == 0 ? written : With(written, written.Endings[ending - 1], verse);
            section = up == 0 ? section : ChartChanges.TransposedBy(section, section.Key ?? chart.Key, up);
            _made.Add((index, ending, verse, up), section);
        }

        return section;
    }

    /// <summary>The number of verses of an ending.</summary>
    public int VersesOf(int index, int ending) =>
        ending == 0 || chart.Sections[index].Endings[ending - 1].Tune is not { } tune
            ? 1
            : Math.Max(1, tune.Lines.Prepend(tune.Melody).Max(voice => voice.Verses.Count));

    internal static Section With(Section section, SectionEnding ending, int verse) => section with
    {
        Bars = [.. section.Bars, .. ending.Bars],
        Tune = section.Tune is { } tune ? Joined(section, tune, ending, verse) : null,
        Endings = [],
    };

    private static Tune Joined(Section section, Tune tune, SectionEnding ending, int verse)
    {
        var (body, end) = (tune.Written, ending.Tune?.Written);
        var hasPickup = end is { Measures: [{ IsUncounted: true }, ..] };
        var pickup = hasPickup ? end!.LengthOf(0) ?? Span.Zero : Span.Zero;
        var measures = body.Measures.Concat(ending.Bars.Select((bar, i) =>
            new Measure((section.Bars.Count + i + 1).ToString(System.Globalization.CultureInfo.InvariantCulture)) { ActualLength = bar.Meter.Length }));
        return new Tune(new WrittenMusic([.. measures], [.. body.Parts.Select((part, line) => PartOf(part, line))]));

        WrittenPart PartOf(WrittenPart part, int line)
        {
            var other = end is null ? null
                : line == 0 ? end.Parts[0]
                : end.Parts.Skip(1).FirstOrDefault(candidate => candidate.Name == part.Name);
            if (other is null)
            {
                return part with { Measures = [.. part.Measures, .. ending.Bars.Select(_ => PartMeasure.Empty)] };
            }

            IReadOnlyList<string> verses = part.Verses.Count > 0 ? part.Verses : other.Verses.Count > 0 ? ["1"] : [];
            var chosen = other.Verses.Count == 0 ? null : other.Verses[verse % other.Verses.Count];
            var open = verses.Where(number => GoesOn(part, number)).ToHashSet(StringComparer.Ordinal);
            var own = other.Measures.Select(measure => Sung(measure, verses, chosen, open)).ToList();
            var before = part.Measures.ToList();
            if (hasPickup && own[0].Voices is [{ Events.Count: > 0 }, ..])
            {
                before[^1] = Filled(section, before[^1], body.LengthOf(before.Count - 1) ?? Span.Zero, own[0], pickup);
            }

            own = hasPickup ? own[1..] : own;
            return IsTied(before, own)
                ? part with { Measures = [.. before, BegunTied(own[0]), .. own.Skip(1)], Verses = [.. verses] }
                : part with { Measures = [.. before, .. own], Verses = [.. verses] };
        }
    }

    /// <summary>True when a line of a section ends in a tie that no ending continues.</summary>
    internal static bool EndsInAnOpenTie(Section section, int line)
    {
        var part = section.Tune!.Written.Parts[line];
        return LastOf(part.Measures) is { TiedTo: not null } && !section.Endings.Any(ending => ending.Tune?.Written is { } end
            && end.Measures is not [{ IsUncounted: true }, ..]
            && (line == 0 ? end.Parts[0] : end.Parts.Skip(1).FirstOrDefault(other => other.Name == part.Name)) is { } other
            && IsTied(part.Measures, other.Measures));
    }

    // A tie leads into an ending that begins with the same note.
    private static bool IsTied(IReadOnlyList<PartMeasure> before, IReadOnlyList<PartMeasure> after) =>
        LastOf(before) is { TiedTo: not null } last
        && after is [{ Voices: [{ Events: [NotesEvent { Grace: null, Late: var late, Notes: [var next, ..] }, ..] }, ..] }, ..]
        && late == Span.Zero && next.Pitch is not null && next.Pitch == last.Pitch;

    private static WrittenNote? LastOf(IReadOnlyList<PartMeasure> measures) =>
        measures is [.., { Voices: [{ Events: [.., NotesEvent { Notes: [var last, ..] }] }, ..] }] ? last : null;

    private static PartMeasure BegunTied(PartMeasure measure)
    {
        var first = (NotesEvent)measure.Voices[0].Events[0];
        var tied = first.WithNotes([.. first.Notes.Select(note => note with { TiedFrom = new TieEnd() })]);
        return measure with { Voices = [measure.Voices[0] with { Events = [tied, .. measure.Voices[0].Events.Skip(1)] }, .. measure.Voices.Skip(1)] };
    }

    // Whether the last word of a verse has a hyphen at its end: the ending has the rest of the word.
    private static bool GoesOn(WrittenPart part, string number) =>
        part.Measures.SelectMany(measure => measure.Voices).SelectMany(voice => voice.Events).SelectMany(one => one.Lyrics)
            .LastOrDefault(lyric => lyric.Number == number && lyric.Parts.Count > 0)?.Parts[^1].Place is WordPlace.Begin or WordPlace.Middle;

    // The first syllable of an ending after a word that goes on.
    private static Lyric Continued(Lyric lyric, HashSet<string> open) => lyric.Parts.Count == 0 || lyric.Number is not { } number || !open.Remove(number) ? lyric : lyric with
    {
        Parts =
        [
            lyric.Parts[0] with
            {
                Place = lyric.Parts[0].Place switch
                {
                    WordPlace.Single => WordPlace.End,
                    WordPlace.Begin => WordPlace.Middle,
                    var place => place,
                },
            },
            .. lyric.Parts.Skip(1),
        ],
    };

    // The verse that is sung now, as every verse of the section.
    private static PartMeasure Sung(PartMeasure measure, IReadOnlyList<string> verses, string? chosen, HashSet<string> open) => measure with
    {
        Voices =
        [
            .. measure.Voices.Select(voice => voice with
            {
                Events =
                [
                    .. voice.Events.Select(one => one.Lyrics.Count == 0 ? one : one with
                    {
                        Lyrics = [.. one.Lyrics.Where(lyric => lyric.Number == chosen).SelectMany(lyric => verses.Select(number => Continued(lyric with { Number = number }, open)))],
                    }),
                ],
            }),
        ],
    };

    // The last measure with a pickup in place of the rest at its end.
    private static PartMeasure Filled(Section section, PartMeasure last, Span length, PartMeasure pickup, Span pickupLength)
    {
        var events = last.Voices.Count == 0 ? [] : last.Voices[0].Events.ToList();
        var sounding = Span.Zero;
        var at = Span.Zero;
        foreach (var one in events)
        {
            at += one.Length;
            sounding = one is RestEvent or GapEvent ? sounding : at;
        }

        var begins = length - pickupLength;
        if (begins < sounding)
        {
            throw new ChartProblemException(
                $"the pickup of an ending needs a rest at the end of the bar before it; write z there in the notes of {section.Name}", section.Name, null);
        }

        var kept = new List<VoiceEvent>();
        at = Span.Zero;
        foreach (var one in events.TakeWhile(_ => at < sounding))
        {
            kept.Add(one);
            at += one.Length;
        }

        if (begins > at)
        {
            kept.Add(WrittenValue.TryFrom(begins - at, out var value) ? new RestEvent(value) : new RestEvent(null, begins - at));
        }

        return new PartMeasure
        {
            Voices = [new VoiceMeasure("1", [.. kept, .. pickup.Voices[0].Events])],
            Marks = [.. last.Marks, .. pickup.Marks.Select(mark => mark with { At = begins + mark.At })],
        };
    }
}
