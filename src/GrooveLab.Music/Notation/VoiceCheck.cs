using GrooveLab.Music.Time;

namespace GrooveLab.Music.Notation;

/// <summary>A voice that does not fill its measure.</summary>
/// <param name="Part">Index of the part.</param>
/// <param name="Measure">Index of the measure.</param>
/// <param name="Voice">The voice's name.</param>
/// <param name="Missing">How much is missing; below zero for how much is too much.</param>
public readonly record struct VoiceFault(int Part, int Measure, string Voice, Span Missing)
{
    /// <summary>"measure 3, part P1, voice 1: 1/4 missing".</summary>
    public string Describe(WrittenMusic music) =>
        $"measure {music.Measures[Measure].Number}, part {music.Parts[Part].Id}, voice {Voice}: "
        + (Missing > Span.Zero ? $"{Missing} missing" : $"{-Missing} too much");
}

/// <summary>Checks that voices fill their measures.</summary>
public static class VoiceCheck
{
    /// <summary>
    /// Every voice that is written in a measure and does not fill it exactly. A voice that is absent from a measure is no fault, nor is a measure
    /// whose length nobody knows; a pickup is filled when its own length is.
    /// </summary>
    public static IReadOnlyList<VoiceFault> Faults(WrittenMusic music)
    {
        var faults = new List<VoiceFault>();
        for (var m = 0; m < music.Measures.Count; m++)
        {
            for (var p = 0; p < music.Parts.Count && music.LengthOf(m) is { } length; p++)
            {
                foreach (var voice in music.Parts[p].Measures[m].Voices)
                {
                    if (voice.Length != length)
                    {
                        faults.Add(new VoiceFault(p, m, voice.Name, length - voice.Length));
                    }
                }
            }
        }

        return faults;
    }
}
