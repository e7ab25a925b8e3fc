using System.Globalization;

namespace GrooveLab.Exchange.Toml;

/// <summary>A problem in a file: its place, what is wrong, and what is accepted.</summary>
/// <param name="File">The file's name as given.</param>
/// <param name="Line">The line, from 1.</param>
/// <param name="Column">The character in the line, from 1; a tab counts as one.</param>
/// <param name="What">What is wrong, in a musician's words.</param>
/// <param name="Accepted">What is accepted instead.</param>
public sealed record FileProblem(string File, int Line, int Column, string What, string Accepted)
{
    /// <summary>"file:line:column: what is wrong; what is accepted", on one line.</summary>
    public override string ToString() =>
        string.Create(CultureInfo.InvariantCulture, $"{File}:{Line}:{Column}: {What}; {Accepted}");
}
