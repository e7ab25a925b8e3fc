namespace GrooveLab.Audio.BuiltInSounds;

/// <summary>The generators of SoundFont 2.04 that a bank's author may need, by their number in section 8.1.2.</summary>
/// <remarks>Not complete: it leaves out unused and reserved numbers.</remarks>
public enum SoundFontGenerator : ushort
{
    /// <summary>Frames added to the sample's start.</summary>
    StartAddressOffset = 0,

    /// <summary>Depth of the modulation LFO on pitch, in cents.</summary>
    ModulationLfoToPitch = 5,

    /// <summary>Depth of the vibrato LFO on pitch, in cents.</summary>
    VibratoLfoToPitch = 6,

    /// <summary>Depth of the modulation envelope on pitch, in cents.</summary>
    ModulationEnvelopeToPitch = 7,

    /// <summary>Cutoff of the low-pass filter, in absolute cents.</summary>
    InitialFilterCutoff = 8,

    /// <summary>Resonance of the low-pass filter above its gain at rest, in centibels.</summary>
    InitialFilterQ = 9,

    /// <summary>Depth of the modulation envelope on the cutoff, in cents.</summary>
    ModulationEnvelopeToFilterCutoff = 11,

    /// <summary>Depth of the modulation LFO on the level, in centibels.</summary>
    ModulationLfoToVolume = 13,

    /// <summary>Chorus send, in tenths of a percent.</summary>
    ChorusSend = 15,

    /// <summary>Reverb send, in tenths of a percent.</summary>
    ReverbSend = 16,

    /// <summary>Pan, in tenths of a percent: -500 is left, 500 is right.</summary>
    Pan = 17,

    /// <summary>Delay of the modulation LFO, in absolute timecents.</summary>
    ModulationLfoDelay = 21,

    /// <summary>Rate of the modulation LFO, in absolute cents.</summary>
    ModulationLfoFrequency = 22,

    /// <summary>Delay of the vibrato LFO, in absolute timecents.</summary>
    VibratoLfoDelay = 23,

    /// <summary>Rate of the vibrato LFO, in absolute cents.</summary>
    VibratoLfoFrequency = 24,

    /// <summary>Attack of the modulation envelope, in absolute timecents.</summary>
    ModulationEnvelopeAttack = 26,

    /// <summary>Hold of the modulation envelope, in absolute timecents.</summary>
    ModulationEnvelopeHold = 27,

    /// <summary>Decay of the modulation envelope over its whole range, in absolute timecents.</summary>
    ModulationEnvelopeDecay = 28,

    /// <summary>Sustain of the modulation envelope as a decrease from full level, in tenths of a percent.</summary>
    ModulationEnvelopeSustain = 29,

    /// <summary>Release of the modulation envelope over its whole range, in absolute timecents.</summary>
    ModulationEnvelopeRelease = 30,

    /// <summary>Delay of the volume envelope, in absolute timecents.</summary>
    VolumeEnvelopeDelay = 33,

    /// <summary>Attack of the volume envelope, in absolute timecents.</summary>
    VolumeEnvelopeAttack = 34,

    /// <summary>Hold of the volume envelope, in absolute timecents.</summary>
    VolumeEnvelopeHold = 35,

    /// <summary>Decay of the volume envelope over 100 dB, in absolute timecents.</summary>
    VolumeEnvelopeDecay = 36,

    /// <summary>Sustain of the volume envelope as an attenuation, in centibels.</summary>
    VolumeEnvelopeSustain = 37,

    /// <summary>Release of the volume envelope over 100 dB, in absolute timecents.</summary>
    VolumeEnvelopeRelease = 38,

    /// <summary>Link of a preset zone to its instrument; only the writer sets it.</summary>
    Instrument = 41,

    /// <summary>Keys of the zone, low in the low byte; only the writer sets it.</summary>
    KeyRange = 43,

    /// <summary>Velocities of the zone, low in the low byte; only the writer sets it.</summary>
    VelocityRange = 44,

    /// <summary>Attenuation, in centibels.</summary>
    InitialAttenuation = 48,

    /// <summary>Transposition, in semitones.</summary>
    CoarseTune = 51,

    /// <summary>Transposition, in cents.</summary>
    FineTune = 52,

    /// <summary>Link of an instrument zone to its sample; only the writer sets it.</summary>
    SampleId = 53,

    /// <summary>0: no loop; 1: always loop; 3: loop until the key is released.</summary>
    SampleModes = 54,

    /// <summary>Cents from key to key.</summary>
    ScaleTuning = 56,

    /// <summary>Exclusive class: notes of one class end each other.</summary>
    ExclusiveClass = 57,

    /// <summary>Root key instead of the sample's own.</summary>
    OverridingRootKey = 58,
}
