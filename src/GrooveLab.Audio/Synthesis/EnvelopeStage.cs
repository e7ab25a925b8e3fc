namespace GrooveLab.Audio.Synthesis;

/// <summary>The stages that an envelope goes through.</summary>
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
