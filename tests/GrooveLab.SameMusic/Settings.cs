namespace GrooveLab.SameMusic;

/// <summary>The settings of a comparison.</summary>
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

    /// <summary>The name of the base: its commit.</summary>
    public required string BaseName { get; init; }

    /// <summary>The name of the current version.</summary>
    public required string CurrentName { get; init; }

    /// <summary>The folder for charts and their outputs.</summary>
    public required string Work { get; init; }

    /// <summary>The file of the result.</summary>
    public required string Report { get; init; }

    /// <summary>The number of random charts.</summary>
    public int Charts { get; init; } = 100;

    /// <summary>The number of changes in the longest performance.</summary>
    public int Changes { get; init; } = 1000;

    /// <summary>The random seed of charts and changes.</summary>
    public int Seed { get; init; } = 1;

    /// <summary>The number of parallel processes.</summary>
    public int Jobs { get; init; } = 2;
}
