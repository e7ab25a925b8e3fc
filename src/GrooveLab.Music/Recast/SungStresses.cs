using GrooveLab.Music.Charts;
using GrooveLab.Music.Notation;

namespace GrooveLab.Music.Recast;

/// <summary>Which syllables are stressed.</summary>
public static class SungStresses
{
    /// <summary>What the marks of a verse say.</summary>
    public static IReadOnlyList<SyllableStress> Marked(IReadOnlyList<Syllable?> verse) =>
        [.. verse.Select(syllable => syllable?.Stress switch { Stress.Strong => SyllableStress.Stressed, Stress.Weak => SyllableStress.Unstressed, _ => SyllableStress.Unknown })];

    /// <summary>The stresses that words and music have together: a syllable about which the words leave it open is stressed on a strong beat.</summary>
    /// <param name="words">What the words say.</param>
    /// <param name="onStrongBeat">Whether the note stands on a strong beat of the source.</param>
    public static IReadOnlyList<SyllableStress> Of(IReadOnlyList<SyllableStress> words, IReadOnlyList<bool> onStrongBeat) =>
        [.. words.Select((word, i) => word is SyllableStress.Unknown && onStrongBeat[i] ? SyllableStress.Stressed : word)];
}
