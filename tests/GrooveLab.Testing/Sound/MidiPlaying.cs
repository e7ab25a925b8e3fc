using GrooveLab.Audio.Synthesis;

namespace GrooveLab.Testing.Sound;

/// <summary>Plays MIDI messages on a synthesizer.</summary>
public static class MidiPlaying
{
    /// <summary>Sends a note, a controller or a program.</summary>
    /// <exception cref="ArgumentException">Another message.</exception>
    public static void Send(this SoundFontSynth synth, ReadOnlySpan<byte> message)
    {
        var channel = message[0] & 15;
        switch (message[0] & 0xf0)
        {
            case 0x80:
                synth.NoteOff(channel, message[1]);
                break;
            case 0x90:
                synth.NoteOn(channel, message[1], message[2]);
                break;
            case 0xb0:
                synth.Control(channel, message[1], message[2]);
                break;
            case 0xc0:
                synth.Program(channel, message[1]);
                break;
            default:
                throw new ArgumentException($"message {message[0]:x2} cannot be sent", nameof(message));
        }
    }
}
