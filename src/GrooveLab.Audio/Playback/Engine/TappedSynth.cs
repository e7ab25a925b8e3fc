using GrooveLab.Audio.Synthesis;

namespace GrooveLab.Audio.Playback.Engine;

/// <summary>A synthesizer whose calls are also passed to a <see cref="MidiTap"/>, as MIDI messages.</summary>
internal sealed class TappedSynth(ISoundFontSynth synth, MidiTap tap) : ISoundFontSynth
{
    private const int NoteOffStatus = 0x80;
    private const int NoteOnStatus = 0x90;
    private const int KeyPressureStatus = 0xA0;
    private const int ControlStatus = 0xB0;
    private const int ProgramStatus = 0xC0;
    private const int ChannelPressureStatus = 0xD0;
    private const int PitchWheelStatus = 0xE0;

    public int SampleRate => synth.SampleRate;

    public int ChannelCount => synth.ChannelCount;

    public int ActiveVoices => synth.ActiveVoices;

    public void NoteOn(int channel, int key, int velocity)
    {
        tap.Message(velocity == 0 ? NoteOffStatus : NoteOnStatus, channel, key, velocity);
        synth.NoteOn(channel, key, velocity);
    }

    public void NoteOff(int channel, int key)
    {
        tap.Message(NoteOffStatus, channel, key, 0);
        synth.NoteOff(channel, key);
    }

    public void Control(int channel, int controller, int value)
    {
        tap.Message(ControlStatus, channel, controller, value);
        synth.Control(channel, controller, value);
    }

    public void Program(int channel, int program)
    {
        tap.Message(ProgramStatus, channel, program, 0);
        synth.Program(channel, program);
    }

    public void PitchWheel(int channel, int value)
    {
        tap.Message(PitchWheelStatus, channel, value & 0x7F, value >> 7);
        synth.PitchWheel(channel, value);
    }

    public void ChannelPressure(int channel, int value)
    {
        tap.Message(ChannelPressureStatus, channel, value, 0);
        synth.ChannelPressure(channel, value);
    }

    public void KeyPressure(int channel, int key, int value)
    {
        tap.Message(KeyPressureStatus, channel, key, value);
        synth.KeyPressure(channel, key, value);
    }

    public void Render(Span<float> left, Span<float> right) => synth.Render(left, right);
}
