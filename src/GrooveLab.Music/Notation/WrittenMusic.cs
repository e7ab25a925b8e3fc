using GrooveLab.Music.Time;

namespace GrooveLab.Music.Notation;

/// <summary>
/// Written music: what a score says is to be played, whoever reads or prints it. One grid of measures, shared by all parts. Immutable and exact;
/// it holds no layout, no clefs and nothing of how it was played.
/// </summary>
/// <remarks>In the order of MusicXML 4.0 (W3C), whose words it uses where the field has no shorter ones.</remarks>
public sealed record WrittenMusic
{
    private readonly WrittenMeter?[] _meters;

    /// <summary>Makes a score.</summary>
    /// <param name="measures">The grid.</param>
    /// <param name="parts">The parts, each with as many measures as the grid.</param>
    /// <exception cref="ArgumentException">A part has another number of measures, or two have the same id.</exception>
    public WrittenMusic(ValueList<Measure> measures, ValueList<WrittenPart> parts)
    {
        var ids = new HashSet<string>(StringComparer.Ordinal);
        foreach (var part in parts)
        {
            if (part.Measures.Count != measures.Count)
            {
                throw new ArgumentException(
                    $"The part {part.Id} has {part.Measures.Count} measures and the grid {measures.Count}; give both as many.", nameof(parts));
            }

            if (!ids.Add(part.Id))
            {
                throw new ArgumentException($"Two parts have the id {part.Id}; give each its own.", nameof(parts));
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

    /// <summary>The grid.</summary>
    public ValueList<Measure> Measures { get; }

    /// <summary>The parts.</summary>
    public ValueList<WrittenPart> Parts { get; }

    /// <summary>Titles, makers, rights.</summary>
    public ValueList<Heading> Headings { get; init; } = [];

    /// <summary>Remarks on the whole.</summary>
    public ValueList<Annotation> Annotations { get; init; } = [];

    /// <summary>Where it was read; null when it was not read from a file.</summary>
    public Origin? Origin { get; init; }

    /// <summary>The time signature that holds in a measure; null before the first one.</summary>
    public WrittenMeter? MeterAt(int measure) => _meters[measure];

    /// <summary>The key signature that holds at the start of a measure, the measure's own included; null before the first one.</summary>
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

    /// <summary>How long a measure is: its own length if it has one, else its meter's; null where neither is known.</summary>
    public Span? LengthOf(int measure) => Measures[measure].ActualLength ?? _meters[measure]?.Length;

    /// <summary>Equality of everything written.</summary>
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
