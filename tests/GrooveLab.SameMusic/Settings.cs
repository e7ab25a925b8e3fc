namespace GrooveLab.SameMusic;

/// <summary>How a comparison is made.</summary>
internal sealed class Settings
{
    /// <summary>The base's source tree.</summary>
    public required string BaseTree { get; init; }

    /// <summary>The base's program.</summary>
    public required string BaseProgram { get; init; }

    /// <summary>This tool, built with the base's sources.</summary>
    public required string BaseTool { get; init; }

    /// <summary>The current source tree.</summary>
    public required string CurrentTree { get; init; }

    /// <summary>The current program.</summary>
    public required string CurrentProgram { get; init; }

    /// <summary>This tool.</summary>
    public required string CurrentTool { get; init; }

    /// <summary>Names the base: its commit.</summary>
    public required string BaseName { get; init; }

    /// <summary>Names what is compared with it.</summary>
    public required string CurrentName { get; init; }

    /// <summary>For charts and what is made of them.</summary>
    public required string Work { get; init; }

    /// <summary>Where the result goes.</summary>
    public required string Report { get; init; }

    /// <summary>How many random charts.</summary>
    public int Charts { get; init; } = 100;

    /// <summary>How many changes in the longest performance.</summary>
    public int Changes { get; init; } = 1000;

    /// <summary>The random seed of charts and changes.</summary>
    public int Seed { get; init; } = 1;

    /// <summary>How many processes side by side.</summary>
    public int Jobs { get; init; } = 2;
}
