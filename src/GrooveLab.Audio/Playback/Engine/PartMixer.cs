using GrooveLab.Audio.Synthesis;
using GrooveLab.Music.Bars;

namespace GrooveLab.Audio.Playback.Engine;

/// <summary>
/// Turns the band's levels, pans and mutes into channel volume (controller 7) and pan (controller 10), and smooths changes of
/// volume. Not the overall level, which is a gain on the samples.
/// </summary>
/// <remarks>
/// Channel volume is 40·log10(value/127) dB (SoundFont 2.04, 8.4.5, and General MIDI level 1). It only attenuates, so the loudest level
/// of a part, +12 dB, is 127 and 0 dB is 64, and the engine adds the difference (<see cref="MakeUpDecibels"/>).
/// Parts that share a channel (percussion) share its volume: the loudest part sets it, and the others play with lower velocities.
/// </remarks>
internal sealed class PartMixer
{
    /// <summary>The gain of the mix that gives a part at 0 dB the original level of its instrument.</summary>
    public const double MakeUpDecibels = 12;

    private const double SilentDecibels = -60;
    private const int SlideSteps = 16;
    private const int MostParts = 64;

    private readonly ISoundFontSynth _synth;
    private readonly double[] _levels = new double[MostParts];
    private readonly int[] _pans = new int[MostParts];
    private readonly bool[] _muted = new bool[MostParts];
    private readonly bool[] _levelSet = new bool[MostParts];
    private readonly bool[] _panSet = new bool[MostParts];
    private readonly double[] _velocityScale = new double[MostParts];
    private readonly int[] _volume = new int[PartChannels.MostChannels];
    private readonly int[] _target = new int[PartChannels.MostChannels];
    private readonly int[] _step = new int[PartChannels.MostChannels];
    private readonly int[] _program = new int[PartChannels.MostChannels];
    private readonly int[] _pan = new int[PartChannels.MostChannels];
    private readonly double[] _scratch = new double[MostParts];
    private readonly int[] _scratchPans = new int[MostParts];
    private readonly byte[] _scratchFlags = new byte[MostParts];
    private MixedPart[] _parts = [];
    private bool _sliding;

    /// <param name="synth">The synthesizer that receives the controllers.</param>
    public PartMixer(ISoundFontSynth synth)
    {
        _synth = synth;
        Array.Fill(_volume, -1);
        Array.Fill(_program, -1);
        Array.Fill(_pan, -1);
    }

    /// <summary>The current program of a channel; -1 before the first.</summary>
    public int ProgramOf(int channel) => _program[channel];

    /// <summary>
    /// Starts a band. Live changes stay for parts with the same name; the rest comes from the parts.
    /// </summary>
    public void SetBand(MixedPart[] parts)
    {
        KeepByName(parts);
        _parts = parts;
        for (var part = 0; part < Count; part++)
        {
            var mixed = parts[part];
            if (!mixed.Playing)
            {
                continue;
            }

            Prepare(mixed.Channel, mixed.Program);
            Prepare(mixed.DampedChannel, mixed.DampedProgram);
            ApplyPan(part);
        }

        ApplyLevels(slide: false);
    }

    /// <summary>Sets a part's level, in dB.</summary>
    public void SetLevel(int part, double decibels)
    {
        if ((uint)part < (uint)Count && !double.IsNaN(decibels))
        {
            _levels[part] = decibels;
            _levelSet[part] = true;
            ApplyLevels(slide: true);
        }
    }

    /// <summary>Sets a part's pan, -100 to 100.</summary>
    public void SetPan(int part, int pan)
    {
        if ((uint)part < (uint)Count)
        {
            _pans[part] = Math.Clamp(pan, -100, 100);
            _panSet[part] = true;
            ApplyPan(part);
        }
    }

    /// <summary>Mutes or unmutes a part.</summary>
    public void SetMuted(int part, bool muted)
    {
        if ((uint)part < (uint)Count)
        {
            _muted[part] = muted;
            ApplyLevels(slide: true);
        }
    }

    /// <summary>The velocity to play with; 0 if the part is muted on a channel that other parts use.</summary>
    public int Velocity(int part, int velocity)
    {
        if ((uint)part >= (uint)Count || _velocityScale[part] == 1)
        {
            return velocity;
        }

        return _velocityScale[part] == 0 ? 0 : Math.Clamp((int)Math.Round(velocity * _velocityScale[part]), 1, 127);
    }

    /// <summary>Advances the moving volumes by one step; called once a block.</summary>
    public void Slide()
    {
        if (!_sliding)
        {
            return;
        }

        _sliding = false;
        for (var channel = 0; channel < _volume.Length; channel++)
        {
            if (_volume[channel] == _target[channel] || _volume[channel] < 0)
            {
                continue;
            }

            var way = _target[channel] - _volume[channel];
            SetVolume(channel, _volume[channel] + Math.Clamp(way, -_step[channel], _step[channel]));
            _sliding |= _volume[channel] != _target[channel];
        }
    }

    /// <summary>The controller value for a level.</summary>
    public static int VolumeOf(double decibels) => decibels < SilentDecibels
        ? 0
        : Math.Clamp((int)Math.Round(127 * Math.Pow(10, (decibels - MakeUpDecibels) / 40)), 0, 127);

    private int Count => Math.Min(_parts.Length, MostParts);

    private void KeepByName(MixedPart[] parts)
    {
        var count = Math.Min(parts.Length, MostParts);
        for (var part = 0; part < count; part++)
        {
            _scratch[part] = parts[part].LevelDecibels;
            _scratchPans[part] = parts[part].Pan;
            _scratchFlags[part] = 0;
            for (var before = 0; before < Count; before++)
            {
                if (!string.Equals(_parts[before].Name, parts[part].Name, StringComparison.Ordinal))
                {
                    continue;
                }

                _scratch[part] = _levelSet[before] ? _levels[before] : _scratch[part];
                _scratchPans[part] = _panSet[before] ? _pans[before] : _scratchPans[part];
                _scratchFlags[part] = (byte)((_levelSet[before] ? 1 : 0) | (_panSet[before] ? 2 : 0) | (_muted[before] ? 4 : 0));
            }
        }

        for (var part = 0; part < count; part++)
        {
            _levels[part] = _scratch[part];
            _pans[part] = _scratchPans[part];
            _levelSet[part] = (_scratchFlags[part] & 1) != 0;
            _panSet[part] = (_scratchFlags[part] & 2) != 0;
            _muted[part] = (_scratchFlags[part] & 4) != 0;
        }
    }

    private void Prepare(int channel, int program)
    {
        if (_program[channel] == program)
        {
            return;
        }

        _program[channel] = program;
        _synth.Program(channel, program);
        _synth.Control(channel, Controllers.Expression, 127);
    }

    private void ApplyPan(int part)
    {
        // The middle is 64 and the ends are 1 and 127, so that both sides are equally wide.
        var value = 64 + (int)Math.Round(_pans[part] * 0.63, MidpointRounding.AwayFromZero);
        ApplyPan(_parts[part].Channel, value);
        ApplyPan(_parts[part].DampedChannel, value);
    }

    private void ApplyPan(int channel, int value)
    {
        if (_pan[channel] != value)
        {
            _pan[channel] = value;
            _synth.Control(channel, Controllers.Pan, value);
        }
    }

    private void ApplyLevels(bool slide)
    {
        for (var part = 0; part < Count; part++)
        {
            if (!_parts[part].Playing)
            {
                continue;
            }

            ApplyLevel(part, _parts[part].Channel, slide);
            ApplyLevel(part, _parts[part].DampedChannel, slide);
        }
    }

    private void ApplyLevel(int part, int channel, bool slide)
    {
        var loudest = double.NegativeInfinity;
        for (var other = 0; other < Count; other++)
        {
            var mixed = _parts[other];
            if (mixed.Playing && (mixed.Channel == channel || mixed.DampedChannel == channel) && !_muted[other])
            {
                loudest = Math.Max(loudest, _levels[other]);
            }
        }

        var below = _levels[part] - loudest;
        _velocityScale[part] = double.IsNegativeInfinity(loudest) || below == 0
            ? 1
            : _muted[part] || _levels[part] < SilentDecibels ? 0 : Math.Pow(10, below / 40);
        var volume = double.IsNegativeInfinity(loudest) ? 0 : VolumeOf(loudest);
        if (!slide || _volume[channel] < 0)
        {
            SetVolume(channel, volume);
            _target[channel] = volume;
            return;
        }

        if (_target[channel] != volume)
        {
            _target[channel] = volume;
            _step[channel] = Math.Max(1, (Math.Abs(volume - _volume[channel]) + SlideSteps - 1) / SlideSteps);
            _sliding = true;
        }
    }

    private void SetVolume(int channel, int volume)
    {
        if (_volume[channel] != volume)
        {
            _volume[channel] = volume;
            _synth.Control(channel, Controllers.Volume, volume);
        }
    }
}

/// <summary>Numbers of MIDI controllers (MIDI 1.0).</summary>
internal static class Controllers
{
    /// <summary>Channel volume.</summary>
    public const int Volume = 7;

    /// <summary>Pan.</summary>
    public const int Pan = 10;

    /// <summary>Expression.</summary>
    public const int Expression = 11;

    /// <summary>All sound off.</summary>
    public const int AllSoundOff = 120;
}
