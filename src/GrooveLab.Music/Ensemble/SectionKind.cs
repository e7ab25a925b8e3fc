using GrooveLab.Music.Band;
using GrooveLab.Music.Charts;

namespace GrooveLab.Music.Ensemble;

/// <summary>What a section is for in a song.</summary>
public enum SectionKind
{
    /// <summary>Comes before the song.</summary>
    Opening,

    /// <summary>Tells the story: thin.</summary>
    Verse,

    /// <summary>Leads from a verse to a refrain: rises.</summary>
    Rise,

    /// <summary>Comes back with the same words or the higher strain of a tune: full.</summary>
    Refrain,

    /// <summary>Comes once and is different in kind.</summary>
    Bridge,

    /// <summary>A stretch for the players.</summary>
    Instrumental,

    /// <summary>Comes after the song.</summary>
    Closing,
}

/// <summary>Tells the kinds of a chart's sections from their names, and where those say nothing, from their order in the form.</summary>
/// <remarks>Common practice, no source.</remarks>
public static class SectionKinds
{
    private static readonly (SectionKind Kind, string[] Words)[] Named =
    [
        (SectionKind.Rise, ["pre-refrain", "prerefrain", "pre-chorus", "prechorus", "lift", "rise", "climb", "build"]),
        (SectionKind.Opening, ["intro", "introduction", "opening", "prelude", "start", "entry"]),
        (SectionKind.Verse, ["verse", "strophe", "stanza", "verses"]),
        (SectionKind.Refrain, ["refrain", "chorus", "hook", "burden"]),
        (SectionKind.Bridge, ["bridge", "middle", "release", "channel", "contrast", "trio"]),
        (SectionKind.Instrumental, ["solo", "solos", "break", "interlude", "instrumental", "turn", "walk", "vamp"]),
        (SectionKind.Closing, ["outro", "coda", "close", "closing", "tag", "ending", "postlude", "end"]),
    ];

    /// <summary>The kind of each section of a chart.</summary>
    public static IReadOnlyList<SectionKind> Of(Chart chart)
    {
        var order = chart.Form.Select(step => step.Section).ToList();
        var steps = chart.Sections.Select((_, index) => order.Count(section => section == index)).ToArray();
        var entries = Entries(chart, order);
        var kinds = new SectionKind?[chart.Sections.Count];
        for (var i = 0; i < kinds.Length; i++)
        {
            kinds[i] = FromName(chart.Sections[i].Name);
        }

        // Sections whose names say nothing, in the order in which they come: the first strain, the second, others.
        var unnamed = order.Distinct().Where(section => kinds[section] is null).ToList();
        for (var rank = 0; rank < unnamed.Count; rank++)
        {
            var section = unnamed[rank];
            var hasVerse = kinds.Contains(SectionKind.Verse);
            var hasRefrain = kinds.Contains(SectionKind.Refrain);
            var hasBridge = kinds.Contains(SectionKind.Bridge);

            // A strain that comes once between two playings of another is the middle of a song.
            var between = steps[section] == 1 && order.IndexOf(section) is > 0 and var at && at < order.Count - 1
                && order.Take(at).Any(before => order.Skip(at + 1).Contains(before));
            kinds[section] = entries.Contains(section) ? SectionKind.Opening
                : !hasVerse && entries.Count > 0 && rank == unnamed.Count - 1 ? SectionKind.Refrain
                : between && !hasBridge && (steps[section] < steps.Max() || chart.Sections.Count > 2) ? SectionKind.Bridge
                : !hasVerse ? SectionKind.Verse
                : !hasRefrain || section == order[^1] ? SectionKind.Refrain
                : hasBridge ? SectionKind.Instrumental
                : SectionKind.Bridge;
        }

        return [.. kinds.Select(kind => kind ?? SectionKind.Verse)];
    }

    // The sections with which a chart opens and that come once, each with fewer players than the next.
    private static HashSet<int> Entries(Chart chart, List<int> order) => [.. order
        .TakeWhile((section, at) => at < order.Count - 1 && order.LastIndexOf(section) == at && Players(chart, section) < Players(chart, order[at + 1]))];

    private static int Players(Chart chart, int section) => chart.Sections[section].Playing?.Count(part => chart.Parts[part].Role is not (Role.Tune or Role.Count))
        ?? chart.Parts.Count(part => part.Role is not (Role.Tune or Role.Count));

    private static SectionKind? FromName(string name)
    {
        var words = name.ToLowerInvariant().Split([' ', '_', '.', ',', '(', ')', '0', '1', '2', '3', '4', '5', '6', '7', '8', '9'], StringSplitOptions.RemoveEmptyEntries);
        foreach (var (kind, known) in Named)
        {
            if (words.Any(word => known.Contains(word, StringComparer.Ordinal)))
            {
                return kind;
            }
        }

        return null;
    }
}
