using GrooveLab.Audio.Synthesis;

namespace GrooveLab.Tests.Conducting;

/// <summary>
/// A stand-in whose samples encode every event: what was played, how, and on which frame. Not a sound. Two performances with the same
/// samples had the same events on the same frames.
/// </summary>
internal sealed class EventSynth(int sampleRate) : ISoundFontSynth
{
    private readonly HashSet<(int Channel, int Key)> _down = [];
    private uint _state = 1;

    public int SampleRate => sampleRate;

    public int ChannelCount => 64;

    public int ActiveVoices => _down.Count;

    public long Frame { get; private set; }

    public List<(long Frame, int Channel, int Key, int Velocity)> Ons { get; } = [];

    public bool KeepsOns { get; init; }

    public void NoteOn(int channel, int key, int velocity)
    {
        Mix(1, channel, key, velocity);
        _down.Add((channel, key));
        if (KeepsOns)
        {
            Ons.Add((Frame, channel, key, velocity));
        }
    }

    public void NoteOff(int channel, int key)
    {
        Mix(2, channel, key, 0);
        _down.Remove((channel, key));
    }

    public void Control(int channel, int controller, int value) => Mix(3, channel, controller, value);

    public void Program(int channel, int program) => Mix(4, channel, program, 0);

    public void PitchWheel(int channel, int value) => Mix(5, channel, value, 0);

    public void ChannelPressure(int channel, int value) => Mix(6, channel, value, 0);

    public void KeyPressure(int channel, int key, int value) => Mix(7, channel, key, value);

    public void Render(Span<float> left, Span<float> right)
    {
        // A sample that depends only on all events so far, so that buffer sizes change nothing.
        var value = (_state >> 9) / (float)(1 << 24);
        left.Fill(value);
        right.Fill(_down.Count);
        Frame += left.Length;
    }

    private void Mix(uint kind, int a, int b, int c)
    {
        unchecked
        {
            foreach (var value in (ReadOnlySpan<uint>)[kind, (uint)a, (uint)b, (uint)c, (uint)Frame])
            {
                _state = (_state ^ value) * 16_777_619;
                _state ^= _state >> 15;
            }
        }
    }
}
