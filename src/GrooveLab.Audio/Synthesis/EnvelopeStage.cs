namespace GrooveLab.Audio.Synthesis;

/// <summary>The stages of an envelope.</summary>
internal enum EnvelopeStage
{
    Delay,
    Attack,
    Hold,
    Decay,
    Sustain,
    Release,
    Finished,
}
