namespace GrooveLab.Exchange.Charts;

/// <summary>The chart that the program plays by default.</summary>
public static class DemoChart
{
    /// <summary>Its name in messages.</summary>
    public const string Name = "ferry-lanterns.toml";

    /// <summary>The chart's text.</summary>
    public static string Text { get; } = Resource.Text(Name);
}
