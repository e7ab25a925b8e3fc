using System.CommandLine;

namespace GrooveLab.Commands;

/// <summary>A command with an example for its help.</summary>
/// <param name="name">Its name on the command line.</param>
/// <param name="description">What it does, in a sentence.</param>
/// <param name="example">A command line that works as printed, with <c>song.toml</c> as the chart.</param>
internal sealed class ProgramCommand(string name, string description, string example) : Command(name, description)
{
    /// <summary>The example for the help.</summary>
    public string Example => example;
}
