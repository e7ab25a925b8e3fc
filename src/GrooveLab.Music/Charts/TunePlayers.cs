using GrooveLab.Music.Band;
using GrooveLab.Music.Wording;

namespace GrooveLab.Music.Charts;

/// <summary>Assigns the lines of a tune to the tune parts.</summary>
/// <remarks>The second tune part plays the first further line, the third the second, and so on; parts beyond them double the tune.
/// Leftover lines go to the first tune part, as far as its instrument can play more notes at once. Without further lines all play the
/// tune.</remarks>
public static class TunePlayers
{
    /// <summary>The lines that a part plays in a section, in order; 0 is the tune itself.</summary>
    /// <param name="section">The section.</param>
    /// <param name="parts">The band.</param>
    /// <param name="part">The index of the part.</param>
    public static IReadOnlyList<int> LinesOf(Section section, IReadOnlyList<Part> parts, int part) =>
        section.Tune is not { } tune ? []
        : [.. Enumerable.Range(0, tune.Lines.Count + 1).Where(line => PlayersOf(parts, section.Playing, line, tune.Lines.Count).Contains(part))];

    /// <summary>A line in messages: "the tune", or "the line 'second voice'".</summary>
    /// <param name="section">The section.</param>
    /// <param name="line">The line; 0 is the tune itself.</param>
    public static string NameOf(Section section, int line) =>
        line == 0 || section.Tune?.Voice(line) is not { } voice ? "the tune" : $"the line {Words.Quote(voice.Name)}";

    /// <summary>The parts that play a line; empty if none can.</summary>
    /// <param name="parts">The band.</param>
    /// <param name="playing">The indices of the parts that play in the section; null for all.</param>
    /// <param name="line">The line; 0 is the tune itself.</param>
    /// <param name="lines">Number of further lines of the tune.</param>
    public static IReadOnlyList<int> PlayersOf(IReadOnlyList<Part> parts, IReadOnlyList<int>? playing, int line, int lines)
    {
        var players = Enumerable.Range(0, parts.Count)
            .Where(part => parts[part].Role == Role.Tune && (playing is null || playing.Contains(part)))
            .ToList();
        if (line == 0)
        {
            return [.. players.Where((_, player) => player == 0 || player > lines)];
        }

        return line < players.Count ? [players[line]]
            : players.Count > 0 && parts[players[0]].Instrument.Voices >= 2 + line - players.Count ? [players[0]]
            : [];
    }
}
