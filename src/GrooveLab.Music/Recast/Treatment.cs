using GrooveLab.Music.Meter;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Recast;

/// <summary>What of the source becomes one bar.</summary>
public enum SourceSpan
{
    /// <summary>A beat: the unit, or a group of three units where all groups have three (6/8).</summary>
    Beat,

    /// <summary>Half a bar.</summary>
    HalfBar,

    /// <summary>A bar.</summary>
    Bar,
}

/// <summary>How a stretch of music is moved into another meter.</summary>
/// <param name="To">The meter it moves into.</param>
/// <param name="Span">What becomes one bar of it.</param>
public sealed record Treatment(BarMeter To, SourceSpan Span)
{
    /// <summary>The beat, from 1, after which each bar gets another beat; all notes keep their distance from their beats. Null to fit the notes of each span into the new
    /// bar. With a number, <see cref="Span"/> is the bar.</summary>
    public int? BeatAfter { get; init; }

    /// <summary>The words by which a musician names it: "5/8 3+2, a half bar to a bar".</summary>
    public string Words => $"{To}, " + (BeatAfter is { } beat ? $"a beat added after beat {beat}" : Span switch
    {
        SourceSpan.Beat => "a beat to a bar",
        SourceSpan.HalfBar => "a half bar to a bar",
        _ => "a bar to a bar",
    });

    /// <summary>The length of what becomes one bar.</summary>
    /// <param name="source">The meter of the source.</param>
    public Span LengthIn(BarMeter source) => Span switch
    {
        SourceSpan.Beat => BeatOf(source),
        SourceSpan.HalfBar => source.Length / 2,
        _ => source.Length,
    };

    /// <summary>The beat of a meter: the unit, or the group where all groups have three units.</summary>
    public static Span BeatOf(BarMeter meter) =>
        !meter.Grouping.IsUndivided && meter.GroupSizes.All(size => size == 3) ? meter.Unit * 3 : meter.Unit;

    /// <summary>The strong places of a bar: beats one and three of 4/4, elsewhere the starts of its groups.</summary>
    /// <remarks>Common practice, no source.</remarks>
    public static IReadOnlyList<Span> StrongPlaces(BarMeter meter) =>
        meter.Signature == new TimeSignature(4, 4) ? [Time.Span.Zero, meter.Length / 2] : [.. meter.GroupStartUnits.Select(unit => meter.Unit * unit)];
}
