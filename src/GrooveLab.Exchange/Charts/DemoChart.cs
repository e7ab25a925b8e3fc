namespace GrooveLab.Exchange.Charts;

/// <summary>The chart that the program plays when it is given none.</summary>
public static class DemoChart
{
    /// <summary>The name under which it is reported.</summary>
    public const string Name = "ferry-lanterns.toml";

    /// <summary>The chart's text.</summary>
    public static string Text { get; } = Resource.Text(Name);
}
