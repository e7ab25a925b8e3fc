namespace GrooveLab.Music.Harmony;

/// <summary>Writes a sound: which letter and accidental stand for it where a key and a chord hold.</summary>
/// <remarks>
/// A tone of the chord is written as the chord spells it, any other tone of the scale as the key does. A chromatic tone that leads by a half
/// step is written a letter away from its goal, so that it rises as a sharp and falls as a flat; any other as the harmonic chromatic scale on
/// the key's tonic has it. Common practice, no source.
/// </remarks>
public static class Spelling
{
    // More sharps or flats than these are for the inner tones of oddly spelled chords only.
    private const int MostAccidentals = 2;

    /// <summary>The spelled pitch of a sound.</summary>
    /// <param name="midi">The MIDI number.</param>
    /// <param name="key">The key of the section.</param>
    /// <param name="chord">The chord that holds there; its written bass counts as one of its tones. <see cref="ChordSymbol.NoChord"/> leaves it to the key.</param>
    /// <param name="next">The pitch that the same voice goes to, as it is spelled; null where there is none.</param>
    public static Pitch Of(int midi, Key key, ChordSymbol chord, Pitch? next = null)
    {
        var pitchClass = PitchName.Modulo(midi, 12);
        if (NameIn(chord, pitchClass) is { } tone)
        {
            return Pitch.AtMidi(tone, midi);
        }

        if (!key.Contains(midi) && next is { } goal && Math.Abs(goal.Midi - midi) == 1)
        {
            var leading = goal.Transpose(goal.Midi > midi ? -Interval.MinorSecond : Interval.MinorSecond);
            if (Math.Abs(leading.Name.Accidental) <= MostAccidentals)
            {
                return leading;
            }
        }

        return key.SpellPitch(midi);
    }

    /// <summary>The pitch with a name that sounds nearest to a MIDI number; the lower of two.</summary>
    public static Pitch Nearest(PitchName name, int midi)
    {
        var below = midi - PitchName.Modulo(midi - name.PitchClass, 12);
        return Pitch.AtMidi(name, midi - below <= 6 ? below : below + 12);
    }

    private static PitchName? NameIn(ChordSymbol chord, int pitchClass)
    {
        foreach (var tone in chord.Tones)
        {
            if (tone.PitchClass == pitchClass)
            {
                return tone.Name;
            }
        }

        return !chord.IsNoChord && chord.Bass.PitchClass == pitchClass ? chord.Bass : null;
    }
}
