using GrooveLab.Music.Harmony;
using GrooveLab.Music.Notation;

namespace GrooveLab.Music.FromScore;

/// <summary>The chord symbol of a written chord.</summary>
internal static class ChordReading
{
    /// <summary>Reads a chord.</summary>
    /// <returns>The symbol, or null if nothing of it can be read; and whether it had to be reduced to a simpler one.</returns>
    public static (ChordSymbol? Symbol, bool IsReduced) Read(WrittenChord chord)
    {
        if (chord.Symbol is not null)
        {
            return (Together(chord.Symbol), false);
        }

        if (ChordSymbol.TryParse(chord.Text, out var symbol, out _))
        {
            return (Together(symbol), false);
        }

        if (chord.Kind == "none")
        {
            return (ChordSymbol.NoChord, false);
        }

        // The nearest symbol: less and less of the text, then root and third alone.
        for (var length = (chord.Text?.Length ?? 0) - 1; length > 0; length--)
        {
            if (ChordSymbol.TryParse(chord.Text![..length], out symbol, out _))
            {
                return (Together(symbol), true);
            }
        }

        if (chord.Root is not { } root || root.Alter is { IsInteger: false })
        {
            return (null, true);
        }

        var kind = chord.Kind ?? string.Empty;
        var suffix = kind.Contains("half-diminished", StringComparison.Ordinal) ? "m7b5"
            : kind.Contains("diminished", StringComparison.Ordinal) ? "dim"
            : kind.Contains("augmented", StringComparison.Ordinal) ? "aug"
            : kind.StartsWith("minor", StringComparison.Ordinal) ? "m"
            : kind.StartsWith("dominant", StringComparison.Ordinal) ? "7"
            : string.Empty;
        var alter = (int)(root.Alter?.Numerator ?? 0);
        if (Math.Abs(alter) > 2)
        {
            return (null, true);
        }

        var bass = chord.Bass is { Alter: null or { IsInteger: true } } low && Math.Abs(low.Alter?.Numerator ?? 0) <= 2
            ? "/" + new PitchName(low.Letter, (int)(low.Alter?.Numerator ?? 0))
            : string.Empty;
        return ChordSymbol.TryParse(new PitchName(root.Letter, alter) + suffix + bass, out symbol, out _)
            ? (chord.ToSounding is { } interval ? symbol.Transpose(interval) : symbol, chord.Degrees.Count > 0 || kind is not ("" or "major" or "minor" or "dominant" or "diminished" or "augmented" or "half-diminished"))
            : (null, true);
    }

    // A chart has no spaces inside a chord.
    private static ChordSymbol Together(ChordSymbol chord) =>
        !chord.Text.Any(char.IsWhiteSpace) ? chord
        : ChordSymbol.TryParse(string.Concat(chord.Text.Where(sign => !char.IsWhiteSpace(sign))), out var plain, out _) && plain.Equals(chord) ? plain
        : ChordSymbol.Parse(chord.ToString());
}
