using GrooveLab.Music.Charts;
using GrooveLab.Music.Notation;

namespace GrooveLab.Music.Recast;

/// <summary>
/// The stresses of a verse as it is sung: what the score's strong beats say, and where they say nothing, a dictionary.
/// </summary>
public static class SungStresses
{
    /// <summary>What the marks of a verse say, one stress for each note: notes that continue a syllable are held, all others unknown.</summary>
    /// <param name="verse">A syllable or null for each note, as in <see cref="TuneVoice.Verses"/>.</param>
    public static IReadOnlyList<SyllableStress> Marked(IReadOnlyList<Syllable?> verse)
    {
        var stresses = new SyllableStress[verse.Count];
        var held = 0;
        for (var i = 0; i < verse.Count; i++)
        {
            held = verse[i]?.Notes ?? held;
            stresses[i] = verse[i] switch
            {
                null => held > 0 ? SyllableStress.Held : SyllableStress.Unknown,
                { IsHeldOver: true } => SyllableStress.Held,
                { } syllable => Marked(syllable, SyllableStress.Unknown),
            };
            held = Math.Max(0, held - 1);
        }

        return stresses;
    }

    /// <summary>
    /// Combines marks, strong beats and a dictionary, one stress for each note. In this order:
    /// a note that continues a syllable is held, and one without a syllable unknown;
    /// a stress that the score or the musician has marked counts;
    /// a syllable on a strong beat is stressed, also where the dictionary has it unstressed, since the composer has put it there ("and THE light");
    /// but an unstressed syllable of a word whose stressed syllable is on a strong beat too stays unstressed ("GLO-ry" on beats one and three), because
    /// inside a word no stressed syllable may be on a weaker place than its unstressed neighbour, and two stressed ones would hide it;
    /// all others are as the dictionary has them.
    /// </summary>
    /// <remarks>Match of stress and strong position: Hayes 2009, Textsetting as constraint conflict, its first constraint, from the abstract. Word-internal
    /// neighbours only: common practice, no source.</remarks>
    /// <param name="verse">A syllable or null for each note, as in <see cref="TuneVoice.Verses"/>.</param>
    /// <param name="dictionary">The stress of each note's syllable by a dictionary; all unknown without one.</param>
    /// <param name="onStrongBeat">Whether each note's syllable is on a strong beat of the source. A syllable that is sung early and held over the strong beat it
    /// anticipates is.</param>
    /// <exception cref="ArgumentException">The lists differ in length.</exception>
    public static IReadOnlyList<SyllableStress> Of(
        IReadOnlyList<Syllable?> verse, IReadOnlyList<SyllableStress> dictionary, IReadOnlyList<bool> onStrongBeat)
    {
        if (dictionary.Count != verse.Count || onStrongBeat.Count != verse.Count)
        {
            throw new ArgumentException("A verse has one stress and one beat for each note.", nameof(dictionary));
        }

        var words = WordOfEachNote(verse);
        var stressedOnStrong = new HashSet<int>();
        for (var i = 0; i < verse.Count; i++)
        {
            if (onStrongBeat[i] && verse[i] is not null && Marked(verse[i], dictionary[i]) == SyllableStress.Stressed)
            {
                stressedOnStrong.Add(words[i]);
            }
        }

        var stresses = new SyllableStress[verse.Count];
        for (var i = 0; i < verse.Count; i++)
        {
            var own = Marked(verse[i], dictionary[i]);
            stresses[i] = verse[i] switch
            {
                null or { IsHeldOver: true } => own,
                { Stress: not Stress.Unknown } => own,
                _ when own == SyllableStress.Unstressed && stressedOnStrong.Contains(words[i]) => own,
                _ when onStrongBeat[i] => SyllableStress.Stressed,
                _ => own,
            };
        }

        return stresses;
    }

    private static SyllableStress Marked(Syllable? syllable, SyllableStress dictionary) => syllable?.Stress switch
    {
        Stress.Strong => SyllableStress.Stressed,
        Stress.Weak => SyllableStress.Unstressed,
        _ => dictionary,
    };

    // The number of the word of each syllable. Where an elision joins two words, that of the second one if it goes on.
    private static int[] WordOfEachNote(IReadOnlyList<Syllable?> verse)
    {
        var words = new int[verse.Count];
        var word = 0;
        for (var i = 0; i < verse.Count; i++)
        {
            word += verse[i] switch
            {
                null => 0,
                { Place: SyllablePlace.Single or SyllablePlace.Begin } => 1,
                { Place: SyllablePlace.Middle } middle => middle.Text.Contains(' ', StringComparison.Ordinal) ? 1 : 0,
                _ => 0,
            };
            words[i] = word;
        }

        return words;
    }
}
