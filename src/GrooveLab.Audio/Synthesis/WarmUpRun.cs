using GrooveLab.Audio.SoundFonts;

namespace GrooveLab.Audio.Synthesis;

/// <summary>Runs every feature of a synthesizer, so that all of its code is compiled before music plays.</summary>
internal static class WarmUpRun
{
    private const int Rounds = 10;

    /// <summary>Plays a synthesizer that is not needed afterwards, and discards its sound.</summary>
    /// <param name="synth">The synthesizer.</param>
    /// <param name="prepared">A sound of its bank; null if none is prepared.</param>
    public static void Run(SoundFontSynth synth, ResolvedPreset? prepared)
    {
        var sound = WarmUpSound.Make();
        for (var channel = 0; channel < synth.ChannelCount; channel++)
            synth.Use(channel, (channel & 1) == 0 ? prepared ?? sound : sound);
        var left = new float[Quantum.Frames];
        var right = new float[Quantum.Frames];
        for (var round = 0; round < Rounds; round++)
        {
            for (var channel = 0; channel < Math.Min(synth.ChannelCount, 16); channel++)
            {
                var key = 24 + (((round * 7) + channel) % 72);
                synth.NoteOn(channel, key, 20 + (round * 2));
                synth.PitchWheel(channel, 8192 + round);
                synth.ChannelPressure(channel, round);
                synth.KeyPressure(channel, key, 1 + round);
                synth.Control(channel, MidiController.Volume, 60 + round);
                synth.Control(channel, MidiController.Sustain, (round & 1) * 127);
                synth.Control(channel, MidiController.Sostenuto, (round & 2) * 64);
                synth.Control(channel, 1, round);
                synth.Control(channel, 93, round);
                synth.Control(channel, MidiController.RegisteredMsb, 0);
                synth.Control(channel, MidiController.RegisteredLsb, 0);
                synth.Control(channel, MidiController.DataEntry, 2);
                synth.Control(channel, MidiController.NonRegisteredMsb, 120);
                synth.Control(channel, MidiController.NonRegisteredLsb, 52);
                synth.Control(channel, MidiController.DataEntryLsb, round);
                synth.Control(channel, MidiController.DataEntry, 64);
                synth.Render(left.AsSpan(0, 1 + (round % 9)), right.AsSpan(0, 1 + (round % 9)));
                synth.NoteOff(channel, key);
                synth.Program(channel, 0);
                // Not every bank has exclusive classes.
                synth.Choke(channel, exclusiveClass: round);
                PlayAlone(synth, channel, key, left, right);
            }
            synth.Render(left, right);
            synth.Control(round % synth.ChannelCount, MidiController.ResetAllControllers, 0);
            synth.Control(round % synth.ChannelCount, MidiController.AllNotesOff, 0);
            synth.Control(round % synth.ChannelCount, MidiController.AllSoundOff, 0);
            _ = synth.ActiveVoices;
        }
        synth.Reset();
        synth.Render(left, right);
        PlayToTheEnd(synth, sound, left, right);
    }

    private static void PlayAlone(SoundFontSynth synth, int channel, int key, float[] left, float[] right)
    {
        for (var legato = 0; legato <= 127; legato += 127)
        {
            synth.Control(channel, MidiController.MonoModeOn, 1);
            synth.Control(channel, MidiController.Legato, legato);
            synth.NoteOn(channel, key, 20);
            synth.NoteOn(channel, key + 1, 20);
            synth.Render(left.AsSpan(0, 3), right.AsSpan(0, 3));
            synth.NoteOff(channel, key + 1);
            synth.NoteOff(channel, key);
        }
        synth.Control(channel, MidiController.Legato, 0);
        synth.Control(channel, MidiController.PolyModeOn, 0);
    }

    private static void PlayToTheEnd(SoundFontSynth synth, ResolvedPreset sound, float[] left, float[] right)
    {
        const int Notes = 6;
        const int QuantaOfNote = 12;
        const int QuantaOfRelease = 20;
        synth.Use(0, sound);
        for (var note = 0; note < Notes; note++)
        {
            // Two octaves up the samples end soon, two octaves down they are read slowly.
            var key = 36 + (note * 12);
            synth.NoteOn(0, key, 100);
            Render(synth, left, right, QuantaOfNote);
            synth.NoteOff(0, key);
            Render(synth, left, right, QuantaOfRelease);
        }
    }

    private static void Render(SoundFontSynth synth, float[] left, float[] right, int quanta)
    {
        for (var i = 0; i < quanta; i++)
            synth.Render(left, right);
    }
}
