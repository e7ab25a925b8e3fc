using GrooveLab.Audio.SoundFonts;
using NAudio.SoundFont;

namespace GrooveLab.Audio.Synthesis;

/// <summary>Which registered parameter (MIDI 1.0) or SoundFont parameter (SoundFont 2.04, section 9.6) data entry sets on a channel.</summary>
internal sealed class ParameterSelection
{
    // The high byte of SoundFont's non-registered parameters.
    private const int SoundFontMsb = 120;

    // Far above every generator number.
    private const int MostHundreds = 100_000;

    private int _registeredMsb;
    private int _registeredLsb;
    private int _nonRegisteredMsb;
    private int _hundreds;
    private int _generator;
    private bool _isRegistered;

    public ParameterSelection() => Reset();

    /// <summary>The selected registered parameter, or -1.</summary>
    public int Registered => _isRegistered && _registeredMsb == 0 && _registeredLsb < 127 ? _registeredLsb : -1;

    /// <summary>The selected generator, or null.</summary>
    public GeneratorEnum? Generator => _isRegistered || _generator < 0 ? null : (GeneratorEnum)_generator;

    /// <summary>The latest low byte of data entry.</summary>
    public int DataLsb { get; set; }

    /// <summary>Restores the state at power-up.</summary>
    public void Reset()
    {
        DataLsb = 0;
        Deselect();
    }

    /// <summary>Selects nothing.</summary>
    public void Deselect()
    {
        _isRegistered = true;
        _registeredMsb = 127;
        _registeredLsb = 127;
        _nonRegisteredMsb = 127;
        _hundreds = 0;
        _generator = -1;
    }

    /// <summary>Handles one of the controllers 98-101.</summary>
    public void Select(int controller, int value)
    {
        _isRegistered = controller is MidiController.RegisteredMsb or MidiController.RegisteredLsb;
        switch (controller)
        {
            case MidiController.RegisteredMsb:
                _registeredMsb = value;
                break;
            case MidiController.RegisteredLsb:
                _registeredLsb = value;
                break;
            case MidiController.NonRegisteredMsb:
                _nonRegisteredMsb = value;
                _hundreds = 0;
                if (value != SoundFontMsb)
                    _generator = -1;
                break;
            default:
                SelectGenerator(value);
                break;
        }
    }

    // 9.6.2: 100, 101 and 102 add 100, 1,000 and 10,000 to the number that follows; higher values are ignored.
    private void SelectGenerator(int value)
    {
        if (_nonRegisteredMsb != SoundFontMsb || value > 102)
            return;
        if (value >= 100)
        {
            _generator = -1;
            _hundreds = Math.Min(MostHundreds, _hundreds + (value == 100 ? 100 : value == 101 ? 1_000 : 10_000));
            return;
        }
        var number = _hundreds + value;
        _hundreds = 0;
        // What cannot be changed in real time, like an address or a root key, is not selected.
        _generator = number < GeneratorRange.Count && ModulatorMerge.IsDestination((GeneratorEnum)number) ? number : -1;
    }
}
