using GrooveLab.Music.Time;

namespace GrooveLab.Music.Notation;

/// <summary>A voice that does not fill its measure.</summary>
/// <param name="Part">Index of the part.</param>
/// <param name="Measure">Index of the measure.</param>
/// <param name="Voice">The voice's name.</param>
/// <param name="Missing">The missing length; negative for an excess.</param>
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
    /// <summary>All written voices that do not fill their measure exactly. A voice absent from a measure is accepted, as is a measure of
    /// unknown length; a pickup must fill its own length.</summary>
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
