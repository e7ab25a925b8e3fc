namespace GrooveLab.Music.Performance;

/// <summary>Has the band arrange the form, or play every section plainly.</summary>
/// <param name="IsArranged">True to arrange it.</param>
public sealed record SetArrangement(bool IsArranged) : StateChange
{
    internal static ChangeForm Form { get; } = new("arrangement", "arrangement form | arrangement none", "thin, fill and rise as the form suggests, or play plainly", (rest, _) =>
        rest.Trim().ToLowerInvariant() switch
        {
            "form" => new SetArrangement(true),
            "none" => new SetArrangement(false),
            var other => throw new ChangeRefusedException($"no arrangement called '{other}'; write arrangement form or arrangement none"),
        });

    /// <inheritdoc/>
    public override string Words => IsArranged ? "arrangement form" : "arrangement none";

    private protected override ChangeResult Apply(PerformanceState state, PerformancePlace place) => new(
        state with { Chart = state.Chart with { IsArranged = IsArranged } },
        IsArranged ? "the band arranges the form" : "the band plays every section plainly",
        ChangeMoment.BarLine);
}
