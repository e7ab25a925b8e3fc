using GrooveLab.Music.Charts;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Notation;

namespace GrooveLab.Music.FromScore;

/// <summary>Something in a score that its chart does not have, or has differently.</summary>
/// <param name="Place">Where it is in the score; null for the whole score.</param>
/// <param name="What">What it is, in a musician's words, and what the chart has instead.</param>
public sealed record NotCarried(Origin? Place, string What);

/// <summary>A chord of the chart that no symbol in the score names.</summary>
/// <param name="Section">The index of the chart's section.</param>
/// <param name="Bar">The bar in the section, from 0; those of its endings follow its own.</param>
/// <param name="Span">The index of the chord in its bar, from 0.</param>
/// <param name="Confidence">How sure, 0 to 1; a statistic.</param>
/// <param name="Alternatives">Other readings, the likeliest first.</param>
public sealed record InferredChord(int Section, int Bar, int Span, double Confidence, IReadOnlyList<ChordSymbol> Alternatives);

/// <summary>A remark for the chart's text about something that was inferred.</summary>
/// <param name="Section">The index of the chart's section; null for the whole chart.</param>
/// <param name="Key">The key of the chart that it stands above: "key", "tempo", "meter".</param>
/// <param name="Text">The remark, one line.</param>
public sealed record ChartRemark(int? Section, string Key, string Text);

/// <summary>The tune as a singer looks at it.</summary>
/// <param name="Lowest">Its lowest note.</param>
/// <param name="Highest">Its highest note.</param>
/// <param name="MostlyFrom">The lower end of where it mostly lies: the middle half of its sounding time.</param>
/// <param name="MostlyTo">The upper end of it.</param>
public sealed record SingersView(Pitch Lowest, Pitch Highest, Pitch MostlyFrom, Pitch MostlyTo);

/// <summary>A chart made from a score.</summary>
/// <param name="Chart">The chart.</param>
/// <param name="NotCarried">What the chart lacks or has differently, each kind once.</param>
public sealed record SongChart(Chart Chart, IReadOnlyList<NotCarried> NotCarried)
{
    /// <summary>The id of the part from which the tune was taken; null if the score has no tune.</summary>
    public string? TunePart { get; init; }

    /// <summary>The chords that were inferred; empty if all are written.</summary>
    public IReadOnlyList<InferredChord> Inferred { get; init; } = [];

    /// <summary>What else was inferred or assumed, for the chart's text.</summary>
    public IReadOnlyList<ChartRemark> Remarks { get; init; } = [];

    /// <summary>Titles and creators of the score, for the chart's text.</summary>
    public IReadOnlyList<Heading> Headings { get; init; } = [];

    /// <summary>The tune's range; null if there is no tune.</summary>
    public SingersView? View { get; init; }
}
