using System.Runtime.CompilerServices;
using GrooveLab.Audio.SoundFonts;

namespace GrooveLab.Audio.Synthesis;

/// <summary>The state of a MIDI channel: controllers, wheel, pressure, tuning and preset.</summary>
internal sealed class ChannelState
{
    private const int Middle14 = 8192;

    // Registered parameters 0-2 as received: a coarse and a fine value of 7 bits each.
    private readonly byte[] _parameterMsb = new byte[3];
    private readonly byte[] _parameterLsb = new byte[3];
    private readonly ParameterSelection _selection = new();

    public ChannelState(bool isPercussion)
    {
        IsPercussion = isPercussion;
        Reset();
    }

    public byte[] Controllers { get; } = new byte[128];

    /// <summary>0-16383.</summary>
    public int PitchWheel { get; set; }

    /// <summary>0-127.</summary>
    public int Pressure { get; set; }

    /// <summary>Pressure on each key, 0-127.</summary>
    public byte[] KeyPressures { get; } = new byte[128];

    /// <summary>The bank number that the next program change uses.</summary>
    public int Bank { get; set; }

    /// <summary>Whether programs come from the percussion bank.</summary>
    public bool IsPercussion { get; set; }

    /// <summary>The preset of notes that start now; null before the first program.</summary>
    public ResolvedPreset? Preset { get; set; }

    /// <summary>The preset to resolve at the next note; null if that is not needed.</summary>
    public SoundFontPreset? Unresolved { get; set; }

    /// <summary>The bank of <see cref="Unresolved"/>.</summary>
    public SoundFontBank? UnresolvedBank { get; set; }

    /// <summary>Amplitude factor for notes that start now, which balances the preset.</summary>
    public float ProgramGain { get; set; } = 1;

    /// <summary>How many keys away the samples are that a repeated note may borrow.</summary>
    public int BorrowedKeys { get; set; }

    /// <summary>Offsets to the generators of every note, by generator number, from SoundFont's NRPN (section 9.6).</summary>
    public float[] Offsets { get; } = new float[GeneratorRange.Count];

    /// <summary>Whether any of <see cref="Offsets"/> is not zero.</summary>
    public bool HasOffsets { get; private set; }

    /// <summary>Makes repeated notes differ, if the synthesizer is asked to.</summary>
    public TouchVariety Variety { get; } = new();

    /// <summary>The keys that are down, while the channel plays one note at a time.</summary>
    public HeldKeys HeldKeys { get; } = new();

    /// <summary>Whether a mono mode message covers this channel.</summary>
    public bool IsMonoMode { get; set; }

    /// <summary>The number of channels that the latest mono mode message on this channel covers, 0 when none is in force.</summary>
    public int MonoChannels { get; set; }

    /// <summary>Whether the legato footswitch is down.</summary>
    public bool IsLegato => Controllers[MidiController.Legato] >= 64;

    /// <summary>Whether the channel plays one note at a time. The keys of a drum kit are different instruments, so never for percussion.</summary>
    public bool IsMono => (IsMonoMode || IsLegato) && !IsPercussion;

    /// <summary>Whether the sostenuto pedal is down.</summary>
    public bool IsSostenuto => Controllers[MidiController.Sostenuto] >= 64;

    /// <summary>Whether the sustain pedal is down.</summary>
    public bool IsSustained => Controllers[MidiController.Sustain] >= 64;

    /// <summary>Range of the pitch wheel in semitones (registered parameter 0).</summary>
    public float WheelRange => _parameterMsb[0] + (_parameterLsb[0] / 100f);

    /// <summary>Cents from registered parameters 1 (fine, 14 bits, plus or minus 100) and 2 (coarse, semitones around 64).</summary>
    public float TuningCents =>
        ((((_parameterMsb[1] << 7) | _parameterLsb[1]) - Middle14) * 100f / Middle14) + ((_parameterMsb[2] - 64) * 100f);

    /// <summary>The bank in which programs are looked up.</summary>
    public int EffectiveBank => IsPercussion ? SoundFontPreset.PercussionBank : Bank;

    /// <summary>Restores the state at power-up; the preset stays.</summary>
    public void Reset()
    {
        Array.Clear(Controllers);
        Controllers[MidiController.Volume] = 100;
        Controllers[MidiController.Pan] = 64;
        Controllers[MidiController.ReverbSend] = 40;
        Bank = 0;
        (_parameterMsb[0], _parameterLsb[0]) = (2, 0);
        (_parameterMsb[1], _parameterLsb[1]) = (64, 0);
        (_parameterMsb[2], _parameterLsb[2]) = (64, 0);
        Array.Clear(Offsets);
        HasOffsets = false;
        Variety.Reset();
        IsMonoMode = false;
        MonoChannels = 0;
        ResetControllers();
        _selection.Reset();
    }

    /// <summary>
    /// Reset All Controllers by RP-015: volume, pan, bank, program, effect sends and parameter values stay.
    /// </summary>
    public void ResetControllers()
    {
        for (var i = 0; i < 120; i++)
        {
            if (i is not (MidiController.BankSelect or MidiController.BankSelectLsb or MidiController.Volume or MidiController.Pan
                or MidiController.VolumeLsb or MidiController.PanLsb or (>= 70 and <= 79) or (>= 91 and <= 95)))
            {
                Controllers[i] = 0;
            }
        }
        Controllers[MidiController.Expression] = 127;
        PitchWheel = Middle14;
        Pressure = 0;
        Array.Clear(KeyPressures);
        if (!IsMono)
            HeldKeys.Clear();
        _selection.Deselect();
    }

    /// <summary>Handles a value for one of the six controllers that select and set registered and SoundFont parameters.</summary>
    /// <returns>Whether it changed an audible parameter.</returns>
    public bool SetParameter(int controller, int value)
    {
        if (controller is not (MidiController.DataEntry or MidiController.DataEntryLsb))
        {
            _selection.Select(controller, value);
            return false;
        }
        if (controller == MidiController.DataEntryLsb)
            _selection.DataLsb = value;
        if (_selection.Registered is >= 0 and var registered && registered < _parameterMsb.Length)
        {
            (controller == MidiController.DataEntry ? _parameterMsb : _parameterLsb)[registered] = (byte)value;
            return true;
        }
        // A SoundFont parameter takes its value when the high byte comes (9.6.3).
        if (controller != MidiController.DataEntry || _selection.Generator is not { } generator)
            return false;
        var offset = (float)(((value << 7) | _selection.DataLsb) - Middle14) * GeneratorRange.Of(generator).ParameterStep;
        ref var current = ref Offsets[(int)generator];
        if (current == offset)
            return false;
        current = offset;
        HasOffsets = !Blocks.AreZero(Offsets);
        return true;
    }

    /// <summary>The MIDI value of a modulator's source; for the wheel's range, semitones.</summary>
    /// <param name="source">The source.</param>
    /// <param name="key">The key that the region uses.</param>
    /// <param name="velocity">The velocity that the region uses.</param>
    /// <param name="playedKey">The key held down, which may differ.</param>
    [MethodImpl(HotCode.Compiled)]
    public float Value(ModulatorSource source, int key, int velocity, int playedKey)
    {
        if (source.IsMidiController)
            return Controllers[source.Index];
        return source.Index switch
        {
            ModulatorSource.Velocity => velocity,
            ModulatorSource.Key => key,
            ModulatorSource.PolyPressure => KeyPressures[playedKey],
            ModulatorSource.ChannelPressure => Pressure,
            ModulatorSource.PitchWheel => PitchWheel,
            ModulatorSource.PitchWheelSensitivity => WheelRange,
            _ => 0,
        };
    }
}
