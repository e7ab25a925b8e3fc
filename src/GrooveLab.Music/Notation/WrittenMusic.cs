using GrooveLab.Music.Time;

namespace GrooveLab.Music.Notation;

/// <summary>Written music: the content of a score, independent of reader and printer. One grid of measures, shared by all parts.
/// Immutable and exact; excludes layout, stems and performance.</summary>
/// <remarks>Structured like MusicXML 4.0 (W3C), whose terms it uses unless the field has shorter ones.</remarks>
public sealed record WrittenMusic
{
    private readonly WrittenMeter?[] _meters;

    /// <summary>Creates a score.</summary>
    /// <param name="measures">The grid of measures.</param>
    /// <param name="parts">The parts, each with as many measures as the grid.</param>
    /// <exception cref="ArgumentException">A part has a different number of measures, or two parts have the same id.</exception>
    public WrittenMusic(ValueList<Measure> measures, ValueList<WrittenPart> parts)
    {
        var ids = new HashSet<string>(StringComparer.Ordinal);
        foreach (var part in parts)
        {
            if (part.Measures.Count != measures.Count)
            {
                throw new ArgumentException(
                    $"The part {part.Id} has {part.Measures.Count} measures and the grid {measures.Count}; they must match.", nameof(parts));
            }

            if (!ids.Add(part.Id))
            {
                throw new ArgumentException($"Two parts have the id {part.Id}; give each a different one.", nameof(parts));
            }
        }

        Measures = measures;
        Parts = parts;
        _meters = new WrittenMeter?[measures.Count];
        WrittenMeter? meter = null;
        for (var i = 0; i < measures.Count; i++)
        {
            meter = measures[i].Meter ?? meter;
            _meters[i] = meter;
        }
    }

    /// <summary>The grid of measures.</summary>
    public ValueList<Measure> Measures { get; }

    /// <summary>The parts.</summary>
    public ValueList<WrittenPart> Parts { get; }

    /// <summary>Titles, creators, rights.</summary>
    public ValueList<Heading> Headings { get; init; } = [];

    /// <summary>Remarks on the whole score.</summary>
    public ValueList<Annotation> Annotations { get; init; } = [];

    /// <summary>Where it was read; null if not read from a file.</summary>
    public Origin? Origin { get; init; }

    /// <summary>The time signature in effect in a measure; null before the first one.</summary>
    public WrittenMeter? MeterAt(int measure) => _meters[measure];

    /// <summary>The key signature in effect at the start of a measure, including the measure's own; null before the first one.</summary>
    public WrittenKey? KeyAt(int measure)
    {
        for (var i = measure; i >= 0; i--)
        {
            if (Measures[i].Key is { } key)
            {
                return key;
            }
        }

        return null;
    }

    /// <summary>The length of a measure: its own length if it has one, otherwise that of its meter; null if neither is known.</summary>
    public Span? LengthOf(int measure) => Measures[measure].ActualLength ?? _meters[measure]?.Length;

    /// <summary>True when all content is equal.</summary>
    public bool Equals(WrittenMusic? other) =>
        ReferenceEquals(this, other)
        || (other is not null
            && Measures.Equals(other.Measures)
            && Parts.Equals(other.Parts)
            && Headings.Equals(other.Headings)
            && Annotations.Equals(other.Annotations)
            && Equals(Origin, other.Origin));

    /// <inheritdoc/>
    public override int GetHashCode() => HashCode.Combine(Measures, Parts, Headings, Annotations, Origin);
}
