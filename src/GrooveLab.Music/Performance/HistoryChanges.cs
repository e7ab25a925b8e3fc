namespace GrooveLab.Music.Performance;

/// <summary>The last change is taken back.</summary>
public sealed record Undo : Change
{
    internal static ChangeForm Form { get; } = new("undo", "undo", "take the last change back", (_, _) => new Undo());

    /// <inheritdoc/>
    public override string Words => "undo";

    internal override HistoryStep MakeIn(PerformanceHistory history, PerformancePlace place) => history.Undo(place);
}

/// <summary>A change that was taken back is made again.</summary>
public sealed record Redo : Change
{
    internal static ChangeForm Form { get; } = new("redo", "redo", "make it again", (_, _) => new Redo());

    /// <inheritdoc/>
    public override string Words => "redo";

    internal override HistoryStep MakeIn(PerformanceHistory history, PerformancePlace place) => history.Redo(place);
}

/// <summary>What is heard is kept as one of the two that are compared by ear.</summary>
/// <param name="Side">A or B.</param>
public sealed record KeepSide(ComparedSide Side) : Change
{
    internal static ChangeForm Form { get; } = new("keep", "keep a | b", "keep what you hear, to compare", (rest, _) => new KeepSide(SideIn(rest)));

    /// <inheritdoc/>
    public override string Words => "keep " + NameOf(Side);

    internal override HistoryStep MakeIn(PerformanceHistory history, PerformancePlace place) => history.Keep(Side);

    internal static string NameOf(ComparedSide side) => side == ComparedSide.A ? "a" : "b";

    internal static ComparedSide SideIn(string text) => ChangeWords.Choice<ComparedSide>(
        text, "one of the two that are compared", ("a", ComparedSide.A), ("b", ComparedSide.B));
}

/// <summary>One of the two that are compared is heard, from the same bar.</summary>
/// <param name="Side">Which; null for the other one.</param>
public sealed record HearSide(ComparedSide? Side) : Change
{
    internal static ChangeForm Form { get; } = new(
        "hear",
        "hear a | b | other",
        "hear the other one from the same bar",
        (rest, _) => new HearSide(rest.Length == 0 || rest.Equals("other", StringComparison.OrdinalIgnoreCase) ? null : KeepSide.SideIn(rest)))
    {
        StandsAlone = true,
    };

    /// <inheritdoc/>
    public override string Words => "hear " + (Side is { } side ? KeepSide.NameOf(side) : "other");

    internal override HistoryStep MakeIn(PerformanceHistory history, PerformancePlace place) => history.Hear(Side, place);
}

/// <summary>What is heard is kept under a name.</summary>
/// <param name="Name">The name, 1 to 60 letters.</param>
public sealed record KeepVersion(string Name) : Change
{
    private const int Longest = 60;

    internal static ChangeForm Form { get; } = new("version", "version NAME", "keep what you hear under a name", (rest, _) => rest.Length <= Longest
        ? new KeepVersion(rest)
        : throw new ChangeRefusedException($"a version's name has at most {Longest} letters"));

    /// <inheritdoc/>
    public override string Words => $"version {Name}";

    internal override HistoryStep MakeIn(PerformanceHistory history, PerformancePlace place) => history.KeepVersion(Name);
}

/// <summary>Back to a version that was kept under a name.</summary>
/// <param name="Name">The name.</param>
public sealed record RecallVersion(string Name) : Change
{
    internal static ChangeForm Form { get; } = new("recall", "recall NAME", "go back to a version", (rest, _) => new RecallVersion(rest));

    /// <inheritdoc/>
    public override string Words => $"recall {Name}";

    internal override HistoryStep MakeIn(PerformanceHistory history, PerformancePlace place) => history.Recall(Name, place);
}
