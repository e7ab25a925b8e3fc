using GrooveLab.Audio.Synthesis;
using GrooveLab.Music.Bars;
using NAudio.Wave;

namespace GrooveLab.Audio.Playback;

/// <summary>
/// Plays a list of channel messages through a synthesizer, each on its exact frame. Unlike in the engine, the list is fixed, so
/// it needs no queue, tempo or mixer; the messages themselves set levels and pans.
/// </summary>
/// <remarks>For offline use: one thread owns it, and the first use of a program may read from disk.</remarks>
public sealed class ChannelEventPlayer : ISampleProvider
{
    private const int BlockFrames = 1024;
    private const int PercussionChannel = PartChannels.PercussionChannel;
    private const int PortChannels = 16;

    // -100 dB: what is left of reverb and chorus is no longer heard. Common practice, no source.
    private const float InaudiblePeak = 1e-5f;

    private readonly ISoundFontSynth _synth;
    private readonly TimedChannelEvent[] _events;
    private readonly float[] _left = new float[BlockFrames];
    private readonly float[] _right = new float[BlockFrames];
    private readonly MasterVolume _master;
    private int _next;
    private float _blockPeak;

    /// <summary>Creates a player.</summary>
    /// <param name="synth">The synthesizer; owned by this object.</param>
    /// <param name="events">The messages, ordered by frame, and within a frame in the order in which they take effect.</param>
    /// <param name="gain">The amplitude factor of the output.</param>
    /// <exception cref="ArgumentException">The frames are not in order.</exception>
    public ChannelEventPlayer(ISoundFontSynth synth, TimedChannelEvent[] events, float gain = 1)
    {
        var frame = 0L;
        foreach (var item in events)
        {
            frame = item.Frame >= frame ? item.Frame : throw new ArgumentException("Messages must be in order of their frames.", nameof(events));
        }

        _synth = synth;
        _events = events;
        _master = new MasterVolume(gain, synth.SampleRate);
        WaveFormat = WaveFormat.CreateIeeeFloatWaveFormat(synth.SampleRate, 2);
        SetPercussion();
    }

    /// <inheritdoc/>
    public WaveFormat WaveFormat { get; }

    /// <summary>Frames played so far.</summary>
    public long Frame { get; private set; }

    /// <summary>The highest sample so far, full scale at 1.</summary>
    public float Peak { get; private set; }

    /// <summary>Fills a buffer of any whole number of frames. It never ends; after the last message the sound rings on.</summary>
    public int Read(Span<float> buffer)
    {
        var frames = buffer.Length / 2;
        for (var done = 0; done < frames;)
        {
            while (_next < _events.Length && _events[_next].Frame <= Frame)
            {
                Apply(_events[_next++].Event);
            }

            var count = Math.Min(BlockFrames, frames - done);
            if (_next < _events.Length)
            {
                count = (int)Math.Min(count, _events[_next].Frame - Frame);
            }

            var left = _left.AsSpan(0, count);
            var right = _right.AsSpan(0, count);
            _synth.Render(left, right);
            if (count > 0)
            {
                _master.Apply(left, right);
                _blockPeak = Math.Max(Blocks.Peak(left), Blocks.Peak(right));
                Peak = Math.Max(Peak, _blockPeak);
                Blocks.Interleave(left, right, buffer.Slice(2 * done, 2 * count));
            }

            done += count;
            Frame += count;
        }

        return 2 * frames;
    }

    private void Apply(ChannelEvent item)
    {
        switch (item.Kind)
        {
            case ChannelEventKind.NoteOn:
                _synth.NoteOn(item.Channel, item.Number, item.Value);
                break;
            case ChannelEventKind.NoteOff:
                _synth.NoteOff(item.Channel, item.Number);
                break;
            case ChannelEventKind.Control:
                _synth.Control(item.Channel, item.Number, item.Value);
                break;
            case ChannelEventKind.Program:
                _synth.Program(item.Channel, item.Number);
                break;
            case ChannelEventKind.Pressure:
                _synth.ChannelPressure(item.Channel, item.Value);
                break;
            case ChannelEventKind.KeyPressure:
                _synth.KeyPressure(item.Channel, item.Number, item.Value);
                break;
            case ChannelEventKind.MasterVolume:
                // The square, as for channel volume: a tenth is -40 dB for both (General MIDI level 2, recommended curve; from memory).
                SetMaster(item.Value / 16383f * (item.Value / 16383f));
                break;
            case ChannelEventKind.Percussion:
                (_synth as SoundFontSynth)?.SetPercussion(item.Channel, item.Value != 0);
                _synth.Program(item.Channel, 0);
                break;
            case ChannelEventKind.PitchWheel:
                _synth.PitchWheel(item.Channel, item.Value);
                break;
            default:
                Reset();
                break;
        }
    }

    // A step would click only while something sounds, and a glide would let the first note begin at another volume.
    private void SetMaster(float volume)
    {
        if (_synth.ActiveVoices == 0 && _blockPeak < InaudiblePeak)
        {
            _master.Set(volume);
        }
        else
        {
            _master.MoveTo(volume);
        }
    }

    // General MIDI level 1: volume 100, pan in the middle, wheel range of two semitones, no tuning, program 1 (0 in the message).
    private void Reset()
    {
        SetMaster(1);
        // No message takes back the SoundFont parameters of a channel.
        (_synth as SoundFontSynth)?.Reset();
        SetPercussion();
        for (var channel = 0; channel < _synth.ChannelCount; channel++)
        {
            _synth.Control(channel, MidiController.AllSoundOff, 0);
            _synth.Control(channel, MidiController.ResetAllControllers, 0);
            _synth.Control(channel, MidiController.PolyModeOn, 0);
            _synth.Control(channel, MidiController.BankSelect, 0);
            _synth.Control(channel, MidiController.BankSelectLsb, 0);
            _synth.Control(channel, MidiController.Volume, 100);
            _synth.Control(channel, MidiController.Pan, 64);
            _synth.Control(channel, MidiController.ReverbSend, 40);
            _synth.Control(channel, MidiController.ChorusSend, 0);
            SetParameter(channel, 0, 2);
            SetParameter(channel, 1, 64);
            SetParameter(channel, 2, 64);
            _synth.Control(channel, MidiController.RegisteredMsb, 127);
            _synth.Control(channel, MidiController.RegisteredLsb, 127);
            _synth.Program(channel, 0);
        }
    }

    // Each port has a percussion channel of its own.
    private void SetPercussion()
    {
        if (_synth is not SoundFontSynth own)
        {
            return;
        }

        for (var channel = 0; channel < own.ChannelCount; channel++)
        {
            var isPercussion = channel % PortChannels == PercussionChannel;
            own.SetPercussion(channel, isPercussion);
            if (isPercussion)
            {
                own.Program(channel, 0);
            }
        }
    }

    private void SetParameter(int channel, int number, int value)
    {
        _synth.Control(channel, MidiController.RegisteredMsb, 0);
        _synth.Control(channel, MidiController.RegisteredLsb, number);
        _synth.Control(channel, MidiController.DataEntry, value);
        _synth.Control(channel, MidiController.DataEntryLsb, 0);
    }
}
