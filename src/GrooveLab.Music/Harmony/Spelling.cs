namespace GrooveLab.Music.Harmony;

/// <summary>Spells a sounding pitch: chooses letter and accidental from the current key and chord.</summary>
/// <remarks>A chord tone is spelled as in the chord, another scale tone as in the key. A chromatic tone that resolves by a half step
/// takes the letter next to its goal, so it rises as a sharp and falls as a flat; any other is spelled as in the harmonic chromatic scale
/// on the key's tonic. Common practice, no source.</remarks>
public static class Spelling
{
    // Only inner tones of oddly spelled chords have more sharps or flats.
    private const int MostAccidentals = 2;

    /// <summary>The spelled pitch of a sounding pitch.</summary>
    /// <param name="midi">The MIDI number.</param>
    /// <param name="key">The key of the section.</param>
    /// <param name="chord">The current chord; its written bass counts as one of its tones. With <see cref="ChordSymbol.NoChord"/> the key
    /// decides.</param>
    /// <param name="next">The next pitch of the same voice, spelled; null for none.</param>
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

    /// <summary>The pitch with a given name nearest to a MIDI number; the lower of two equally near.</summary>
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
