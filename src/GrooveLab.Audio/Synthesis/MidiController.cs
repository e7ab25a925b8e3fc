namespace GrooveLab.Audio.Synthesis;

/// <summary>MIDI 1.0 controller numbers that the synthesizer handles specially.</summary>
internal static class MidiController
{
    public const int BankSelect = 0;
    public const int DataEntry = 6;
    public const int Volume = 7;
    public const int Pan = 10;
    public const int Expression = 11;
    public const int BankSelectLsb = 32;
    public const int DataEntryLsb = 38;
    public const int VolumeLsb = 39;
    public const int PanLsb = 42;
    public const int Sustain = 64;
    public const int Sostenuto = 66;
    public const int Legato = 68;
    public const int ReverbSend = 91;
    public const int ChorusSend = 93;
    public const int NonRegisteredLsb = 98;
    public const int NonRegisteredMsb = 99;
    public const int RegisteredLsb = 100;
    public const int RegisteredMsb = 101;
    public const int AllSoundOff = 120;
    public const int ResetAllControllers = 121;
    public const int AllNotesOff = 123;
    public const int MonoModeOn = 126;
    public const int PolyModeOn = 127;
}
