namespace GrooveLab.Music.Performance;

/// <summary>Undoes the last change.</summary>
public sealed record Undo : Change
{
    internal static ChangeForm Form { get; } = new("undo", "undo", "undo the last change", (_, _) => new Undo());

    /// <inheritdoc/>
    public override string Words => "undo";

    internal override HistoryStep MakeIn(PerformanceHistory history, PerformancePlace place) => history.Undo(place);
}

/// <summary>Limits the last change to the section in which it was made: takes it back and makes it for that section only.</summary>
public sealed record OnlyHere : Change
{
    internal static ChangeForm Form { get; } = new("here", "here", "limit the last change to the section where you made it", (_, _) => new OnlyHere());

    /// <inheritdoc/>
    public override string Words => "here";

    internal override HistoryStep MakeIn(PerformanceHistory history, PerformancePlace place) => history.OnlyHere(place);
}

/// <summary>Redoes the last undone change.</summary>
public sealed record Redo : Change
{
    internal static ChangeForm Form { get; } = new("redo", "redo", "redo the undone change", (_, _) => new Redo());

    /// <inheritdoc/>
    public override string Words => "redo";

    internal override HistoryStep MakeIn(PerformanceHistory history, PerformancePlace place) => history.Redo(place);
}

/// <summary>Keeps the current state as A or B, to compare by ear.</summary>
/// <param name="Side">A or B.</param>
public sealed record KeepSide(ComparedSide Side) : Change
{
    internal static ChangeForm Form { get; } = new("keep", "keep a | b", "keep what you hear, to compare", (rest, _) => new KeepSide(SideIn(rest)));

    /// <inheritdoc/>
    public override string Words => "keep " + NameOf(Side);

    internal override HistoryStep MakeIn(PerformanceHistory history, PerformancePlace place) => history.Keep(Side);

    internal static string NameOf(ComparedSide side) => side == ComparedSide.A ? "a" : "b";

    internal static ComparedSide SideIn(string text) => ChangeWords.Choice<ComparedSide>(
        text, "a side", ("a", ComparedSide.A), ("b", ComparedSide.B));
}

/// <summary>Plays A or B from the same bar.</summary>
/// <param name="Side">The side; null for the other one.</param>
public sealed record HearSide(ComparedSide? Side) : Change
{
    internal static ChangeForm Form { get; } = new(
        "hear",
        "hear a | b | other",
        "compare A and B from the same bar",
        (rest, _) => new HearSide(rest.Length == 0 || rest.Equals("other", StringComparison.OrdinalIgnoreCase) ? null : KeepSide.SideIn(rest)))
    {
        StandsAlone = true,
    };

    /// <inheritdoc/>
    public override string Words => "hear " + (Side is { } side ? KeepSide.NameOf(side) : "other");

    internal override HistoryStep MakeIn(PerformanceHistory history, PerformancePlace place) => history.Hear(Side, place);
}

/// <summary>Saves the current state as a named version.</summary>
/// <param name="Name">The name, 1 to 60 characters.</param>
public sealed record KeepVersion(string Name) : Change
{
    /// <summary>The name of the newest unsaved changes of earlier sessions; with a number behind it, of earlier ones. No version can have such a
    /// name, because saving what is recalled by it deletes the kept changes.</summary>
    public const string Unsaved = "unsaved";

    private const int Longest = 60;

    /// <summary>Whether a name belongs to unsaved changes: "unsaved", "unsaved 2".</summary>
    public static bool IsReserved(string name)
    {
        var words = name.Split(' ', StringSplitOptions.RemoveEmptyEntries);
        return words.Length is 1 or 2 && words[0].Equals(Unsaved, StringComparison.OrdinalIgnoreCase) && (words.Length == 1 || words[1].All(char.IsAsciiDigit));
    }

    internal static ChangeForm Form { get; } = new("version", "version NAME", "save what you hear under a name", (rest, _) => rest.Length <= Longest
        ? new KeepVersion(rest)
        : throw new ChangeRefusedException($"a version's name has at most {Longest} characters"));

    /// <inheritdoc/>
    public override string Words => $"version {Name}";

    internal override HistoryStep MakeIn(PerformanceHistory history, PerformancePlace place) => history.KeepVersion(Name);
}

/// <summary>Restores a saved version.</summary>
/// <param name="Name">The name.</param>
public sealed record RecallVersion(string Name) : Change
{
    internal static ChangeForm Form { get; } = new("recall", "recall NAME", "restore a saved version", (rest, _) =>
        new RecallVersion(rest));

    /// <inheritdoc/>
    public override string Words => $"recall {Name}";

    internal override HistoryStep MakeIn(PerformanceHistory history, PerformancePlace place) => history.Recall(Name, place);
}
