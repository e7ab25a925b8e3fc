namespace GrooveLab.Music.Charts;

/// <summary>What a section itself says about its arrangement, in place of what the arrangement would choose. Immutable.</summary>
public sealed record SectionOrders
{
    /// <summary>The energies of its playings, 1 to 5; the last one serves all later playings. Empty to leave them to the arrangement.</summary>
    public IReadOnlyList<int> Energies { get; init; } = [];

    /// <summary>The tasks of some parts, at most one entry for each.</summary>
    public IReadOnlyList<PartOrders> Tasks { get; init; } = [];

    /// <summary>The index of the part that plays the fill at its end; <see cref="NoFill"/> for none; null to leave it to the
    /// arrangement.</summary>
    public int? Fill { get; init; }

    /// <summary>The value of <see cref="Fill"/> for a section that ends without a fill.</summary>
    public const int NoFill = -1;

    /// <summary>The same without a part of the band, whose later parts move up; null when nothing is left.</summary>
    public SectionOrders? Without(int part)
    {
        var left = new SectionOrders
        {
            Energies = Energies,
            Tasks = [.. Tasks.Where(orders => orders.Part != part).Select(orders => orders.Part > part ? orders with { Part = orders.Part - 1 } : orders)],
            Fill = Fill == part ? null : Fill > part ? Fill - 1 : Fill,
        };
        return left.Energies.Count == 0 && left.Tasks.Count == 0 && left.Fill is null ? null : left;
    }

    /// <summary>The same without what it asks of a part, which stays in the band; null when nothing is left.</summary>
    public SectionOrders? AskingNothingOf(int part)
    {
        var left = this with { Tasks = [.. Tasks.Where(orders => orders.Part != part)], Fill = Fill == part ? null : Fill };
        return left.Energies.Count == 0 && left.Tasks.Count == 0 && left.Fill is null ? null : left;
    }

    /// <summary>The number of playings for which it says something of their own.</summary>
    public int Longest => Math.Max(Energies.Count, Tasks.Select(orders => orders.Tasks.Count).DefaultIfEmpty(0).Max());

    /// <summary>What it asks of some of its playings, where they become a section of their own.</summary>
    /// <param name="playings">The playings, from 0, in order; at least one.</param>
    public SectionOrders Of(IReadOnlyList<int> playings) => this with
    {
        Energies = Energies.Count == 0 ? Energies : Chosen(Energies, playings),
        Tasks = [.. Tasks.Select(orders => orders with { Tasks = Chosen(orders.Tasks, playings) })],
    };

    // The last one serves all later playings.
    private static IReadOnlyList<T> Chosen<T>(IReadOnlyList<T> all, IReadOnlyList<int> playings)
    {
        List<T> chosen = [.. playings.Select(playing => all[Math.Min(playing, all.Count - 1)])];
        while (chosen.Count > 1 && EqualityComparer<T>.Default.Equals(chosen[^1], chosen[^2]))
        {
            chosen.RemoveAt(chosen.Count - 1);
        }

        return chosen;
    }

    /// <inheritdoc/>
    public bool Equals(SectionOrders? other) =>
        other is not null && Energies.SequenceEqual(other.Energies) && Tasks.SequenceEqual(other.Tasks) && Fill == other.Fill;

    /// <inheritdoc/>
    public override int GetHashCode() => HashCode.Combine(Energies.Count, Tasks.Count, Fill);
}

/// <summary>The tasks of one part in the playings of a section. Immutable.</summary>
/// <param name="Part">Its index in the band.</param>
/// <param name="Tasks">A task for each playing; the last one serves all later playings. Never empty.</param>
public sealed record PartOrders(int Part, IReadOnlyList<PartTask> Tasks)
{
    /// <summary>The task in a playing.</summary>
    public PartTask In(int playing) => Tasks[Math.Min(playing, Tasks.Count - 1)];

    /// <inheritdoc/>
    public bool Equals(PartOrders? other) => other is not null && Part == other.Part && Tasks.SequenceEqual(other.Tasks);

    /// <inheritdoc/>
    public override int GetHashCode() => HashCode.Combine(Part, Tasks.Count);
}
