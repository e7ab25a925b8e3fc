using System.Globalization;
using GrooveLab.Audio.Devices;

namespace GrooveLab.Screen;

/// <summary>Turns MIDI messages into presses: a pedal pressed, a key struck, a program selected. Releases are ignored.</summary>
internal sealed class Pedals
{
    private const int Down = 64;

    private readonly bool[] _down = new bool[128];

    /// <summary>The name of what was pressed ("cc64", "note36", "program3"); null if nothing was.</summary>
    public string? Press(in MidiMessage message)
    {
        string Named(string kind, int number) => kind + number.ToString(CultureInfo.InvariantCulture);
        switch (message.Status)
        {
            case 0xB0:
                // A continuous pedal sends many values; only crossing the middle counts.
                var down = message.Second >= Down;
                var pressed = down && !_down[message.First];
                _down[message.First] = down;
                return pressed ? Named("cc", message.First) : null;
            case 0x90 when message.Second > 0:
                return Named("note", message.First);
            case 0xC0:
                return Named("program", message.First);
            default:
                return null;
        }
    }
}
