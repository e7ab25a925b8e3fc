using GrooveLab.Audio.Synthesis;

namespace GrooveLab.Audio.Tests.Playback;

/// <summary>The kind of a call to the synthesizer.</summary>
internal enum CallKind
{
    On,
    Off,
    Control,
    Program,
}

/// <summary>A call, with the frame on which it took effect.</summary>
internal readonly record struct SynthCall(long Frame, CallKind Kind, int Channel, int Key, int Value);

/// <summary>
/// A synthesizer that records its calls with their frames. Its sound, a decaying tone for each key, depends on every call and frame, so
/// two runs can be compared bit for bit.
/// </summary>
internal sealed class RecordingSynth(int sampleRate = 48_000, int capacity = 1 << 16) : ISoundFontSynth
{
    private readonly float[] _level = new float[64 * 128];
    private readonly long[] _since = new long[64 * 128];
    private readonly float[] _volume = new float[64];
    private readonly List<SynthCall> _calls = new(capacity);
    private readonly int[] _down = new int[64 * 128];
    private int _downCount;

    public int SampleRate => sampleRate;

    public int ChannelCount => 64;

    public int ActiveVoices => _downCount;

    public long Frame { get; private set; }

    public bool Records { get; set; } = true;

    public IReadOnlyList<SynthCall> Calls => _calls;

    public IEnumerable<SynthCall> Ons => _calls.Where(call => call.Kind == CallKind.On);

    public IEnumerable<SynthCall> Offs => _calls.Where(call => call.Kind == CallKind.Off);

    public void NoteOn(int channel, int key, int velocity)
    {
        Record(CallKind.On, channel, key, velocity);
        Lift((channel * 128) + key);
        _down[_downCount++] = (channel * 128) + key;
        _level[(channel * 128) + key] = velocity / 1270f;
        _since[(channel * 128) + key] = Frame;
    }

    public void NoteOff(int channel, int key)
    {
        Record(CallKind.Off, channel, key, 0);
        Lift((channel * 128) + key);
    }

    public void Control(int channel, int controller, int value)
    {
        Record(CallKind.Control, channel, controller, value);
        if (controller == 7)
        {
            _volume[channel] = value / 127f;
        }
    }

    public void Program(int channel, int program) => Record(CallKind.Program, channel, program, 0);

    public void PitchWheel(int channel, int value)
    {
    }

    public void ChannelPressure(int channel, int value)
    {
    }

    public void KeyPressure(int channel, int key, int value)
    {
    }

    public void Render(Span<float> left, Span<float> right)
    {
        left.Clear();
        right.Clear();
        foreach (var place in _down.AsSpan(0, _downCount))
        {
            for (var i = 0; i < left.Length; i++)
            {
                var age = Frame + i - _since[place];
                var sample = _level[place] * _volume[place / 128] * (float)Math.Cos(age * 0.01 * (1 + (place % 128)));
                left[i] += sample;
                right[i] -= sample / 2;
            }
        }

        Frame += left.Length;
    }

    private void Lift(int place)
    {
        var at = _down.AsSpan(0, _downCount).IndexOf(place);
        if (at >= 0)
        {
            _down.AsSpan(at + 1, _downCount - at - 1).CopyTo(_down.AsSpan(at));
            _downCount--;
        }
    }

    private void Record(CallKind kind, int channel, int key, int value)
    {
        if (Records)
        {
            _calls.Add(new SynthCall(Frame, kind, channel, key, value));
        }
    }
}
