using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Charts;

/// <summary>What a chart says about how it is moved into another meter; it does not sound.</summary>
public sealed record RecastNotes
{
    /// <summary>The costs that differ from the usual ones, by the name of each in a chart.</summary>
    public ValueList<RecastCost> Costs { get; init; } = [];

    /// <summary>The places that a musician has decided.</summary>
    public ValueList<RecastPin> Pins { get; init; } = [];
}

/// <summary>A cost, by its name in a chart.</summary>
/// <param name="Name">The name.</param>
/// <param name="Value">Its value, at least 0.</param>
public sealed record RecastCost(string Name, double Value);

/// <summary>The places of the notes of a bar, decided by a musician.</summary>
/// <param name="Section">The section's name.</param>
/// <param name="Bar">The bar of the source in the section, from 1.</param>
/// <param name="Bars">For each bar that it becomes, where its notes begin.</param>
public sealed record RecastPin(string Section, int Bar, ValueList<PinnedBar> Bars)
{
    /// <summary>The words in a chart: "verse bar 2: 1 3 4 | 1 - 5".</summary>
    public override string ToString() => FormattableString.Invariant($"{Section} bar {Bar}: {string.Join(" | ", Bars)}");
}

/// <summary>The places of the notes of a target bar.</summary>
/// <param name="Places">A place for each note that begins in it.</param>
public sealed record PinnedBar(ValueList<PinnedNote> Places)
{
    /// <summary>"1 - 5".</summary>
    public override string ToString() => string.Join(' ', Places);
}

/// <summary>The place of a note.</summary>
/// <param name="Unit">The unit on which it begins, from 1, also between two units (2.5); null to leave it free.</param>
public sealed record PinnedNote(Rational? Unit)
{
    /// <summary>"2.5", or "-" for a free note.</summary>
    public override string ToString() => Unit is { } unit ? Decimals.Exact(unit) ?? unit.ToString() : "-";
}
