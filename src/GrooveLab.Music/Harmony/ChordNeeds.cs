using System.Numerics;

namespace GrooveLab.Music.Harmony;

/// <summary>Which tones a voicing of a chord must contain, most important first, and which it may double. Common practice, no source: the
/// third (or its replacement) and the seventh identify the chord, altered fifth and written tensions name it, a perfect fifth is
/// dispensable.</summary>
internal sealed class ChordNeeds
{
    private readonly List<int> _byNeed = [];

    public ChordNeeds(ChordTones tones, bool dropRoot)
    {
        var bare = !tones.Any(tone => tone.Degree is ChordDegree.Second or ChordDegree.Third or ChordDegree.Fourth);
        // A power chord without its root is a single note.
        if (!dropRoot || bare)
            Need(tones, ChordDegree.Root);
        Need(tones, ChordDegree.Third);
        Need(tones, ChordDegree.Second);
        Need(tones, ChordDegree.Fourth);
        Need(tones, ChordDegree.Seventh);
        Need(tones, ChordDegree.Sixth);
        foreach (var tone in tones)
        {
            if (tone.Degree == ChordDegree.Fifth && (tone.Alteration != 0 || bare))
                Need(tone.PitchClass);
        }

        var highest = tones.Count == 0 ? ChordDegree.Root : tones.Max(tone => tone.Degree);
        foreach (var tone in tones.Reverse())
        {
            if (tone.Degree >= ChordDegree.Ninth && (tone.Alteration != 0 || tone.Degree == highest))
                Need(tone.PitchClass);
        }

        AllMask = tones.PitchClassMask;
        foreach (var tone in tones)
        {
            var plain = tone.Degree is ChordDegree.Root or ChordDegree.Third || tone is { Degree: ChordDegree.Fifth, Alteration: 0 };
            if (plain)
                DoubleMask |= 1 << tone.PitchClass;
        }
    }

    /// <summary>All pitch classes of the chord, as bits.</summary>
    public int AllMask { get; }

    /// <summary>Pitch classes that may sound twice: root, third and perfect fifth.</summary>
    public int DoubleMask { get; }

    /// <summary>The pitch classes that a voicing with that number of notes must contain to be this chord.</summary>
    public int RequiredMask(int voices)
    {
        var mask = 0;
        for (var i = 0; i < Math.Min(voices, _byNeed.Count); i++)
            mask |= 1 << _byNeed[i];
        return mask;
    }

    /// <summary>Number of these pitch classes missing from those.</summary>
    public static int Missing(int required, int present) => BitOperations.PopCount((uint)(required & ~present));

    private void Need(ChordTones tones, ChordDegree degree)
    {
        if (tones.Find(degree) is { } tone)
            Need(tone.PitchClass);
    }

    private void Need(int pitchClass)
    {
        if (!_byNeed.Contains(pitchClass))
            _byNeed.Add(pitchClass);
    }
}
