using GrooveLab.Audio.SoundFonts;
using GrooveLab.Audio.Synthesis;
using GrooveLab.Audio.Tests.SoundFonts;
using GrooveLab.Testing;
using GrooveLab.Testing.Sound;
using NAudio.SoundFont;
using Xunit;

namespace GrooveLab.Audio.Tests.Synthesis;

/// <summary>What is lost when a piece wants more voices than there are.</summary>
public sealed class VoiceStealingTests
{
    private const int Cap = 64;
    private const int LeastWanted = 140;
    private const int FirstHighBand = 19;

    // Held tones below 1 kHz, nearly all audible when they must go: what differs above 4.8 kHz is clicks. Measured: -70 dB below the mix with the
    // slow fade, -56 dB with the short one.
    [Fact]
    public void Render_MoreTonesThanVoices_DoesNotClick()
    {
        var (all, most, _) = Play(Tones(), TonesBank(), 512);
        var (some, _, synth) = Play(Tones(), TonesBank(), Cap);
        Assert.True(most >= LeastWanted, $"{most} voices wanted");
        Assert.True(synth.StolenVoices > 100, $"{synth.StolenVoices} stolen");
        Assert.Equal(0, synth.StolenAttacks);
        Assert.True(synth.SlowlyStolenVoices > 100, $"{synth.SlowlyStolenVoices} audible ones stolen");
        var clicks = Highest([.. some.Zip(all, (a, b) => a - b)]) - Playing.Decibels(Playing.Rms(all));
        Assert.True(clicks < -65, $"above 4.8 kHz {clicks:F1} dB, slow {synth.SlowlyStolenVoices} of {synth.StolenVoices}");
    }

    // Two notes of eight layers and room for eight voices: the second takes all voices of the first.
    [Fact]
    public void NoteOn_NoteOfManyLayersIsCut_CountsOnce()
    {
        var bank = new BankBuilder();
        var sample = bank.AddSample([.. Enumerable.Repeat((short)16384, 128)], loopStart: 16, loopEnd: 112);
        var layer = new BankBuilder.Zone((GeneratorEnum.SampleModes, 1), (GeneratorEnum.SampleID, sample));
        var instrument = bank.AddInstrument([.. Enumerable.Repeat(layer, 8)]);
        bank.AddPreset(0, 0, "layers", new BankBuilder.Zone((GeneratorEnum.Instrument, instrument)));
        var synth = new SoundFontSynth(SoundFontBank.Load(bank.Build(), "layers"), 48_000, new SoundFontSynthOptions { MaxVoices = 8, Dry = true });
        synth.NoteOn(0, 60, 100);
        synth.Render(new float[4800], new float[4800]);

        synth.NoteOn(0, 64, 100);

        Assert.Equal((8, 1), (synth.StolenVoices, synth.CutNotes));
    }

    [Fact]
    public void Render_DenseMusicWithPedals_LosesLessThanTheReference()
    {
        References.Require(File.Exists(ReferenceRenderer.SmallBank), $"{ReferenceRenderer.SmallBank} is not installed");
        var bank = SoundFontBank.Open(ReferenceRenderer.SmallBank);
        var events = Pedalled();
        var (all, most, _) = Play(events, bank, 512);
        var (some, _, synth) = Play(events, bank, Cap);
        Assert.True(most >= LeastWanted, $"{most} voices wanted");
        Assert.Equal(0, synth.StolenAttacks);
        var theirs = Lost(Reference(events, 512), Reference(events, Cap));
        var ours = Lost(all, some);
        Assert.True(ours < theirs - 1, $"{synth.StolenVoices} stolen, {synth.SlowlyStolenVoices} of them audible; lost {ours:F1} dB below the mix, fluidsynth {theirs:F1} dB");
    }

    private static float[] Reference(IReadOnlyList<(double Seconds, byte[] Message)> events, int voices) =>
        ReferenceRenderer.Render(events, polyphony: voices).Left;

    // The energy of what is missing or different, in dB relative to the mix.
    private static double Lost(float[] all, float[] some)
    {
        var length = Math.Min(all.Length, some.Length);
        var difference = all.Take(length).Zip(some, (a, b) => a - b).ToArray();
        return Playing.Decibels(Playing.Rms(difference) / Playing.Rms(all.AsSpan(0, length)));
    }

    // The highest level of the high bands in any slice, in dB.
    private static double Highest(float[] sound) => BandLevels.Of(sound).Max(slice => Sum(slice.Skip(FirstHighBand)));

    private static double Sum(IEnumerable<double> decibels) => 10 * Math.Log10(decibels.Sum(level => Math.Pow(10, level / 10)));

    private static SoundFontBank TonesBank() => TestBanks.Sine(
        (GeneratorEnum.AttackVolumeEnvelope, -5000), (GeneratorEnum.ReleaseVolumeEnvelope, 0));

    private static List<(double Seconds, byte[] Message)> Tones()
    {
        var random = new Random(5);
        var events = new List<(double, byte[])>();
        for (var sixteenth = 0; sixteenth < 80; sixteenth++)
        {
            for (var note = 0; note < 5; note++)
            {
                var key = (byte)random.Next(50, 82);
                var channel = random.Next(8);
                var start = sixteenth / 8.0;
                events.Add((start, [(byte)(0x90 | channel), key, (byte)random.Next(80, 120)]));
                events.Add((start + (random.Next(24, 40) / 8.0), [(byte)(0x80 | channel), key, 0]));
            }
        }

        return Ordered(events);
    }

    private static List<(double Seconds, byte[] Message)> Pedalled()
    {
        var pedals = Enumerable.Range(0, 9).SelectMany(channel => Enumerable.Range(0, 4).SelectMany(bar => new (double, byte[])[]
        {
            ((4 * bar) + 0.01, [(byte)(0xb0 | channel), 64, 127]), ((4 * bar) + 3.9, [(byte)(0xb0 | channel), 64, 0]),
        }));
        return Ordered([.. DenseMusic.Events(), .. pedals]);
    }

    private static List<(double Seconds, byte[] Message)> Ordered(IEnumerable<(double Seconds, byte[] Message)> events) =>
        [.. events.OrderBy(one => one.Seconds).ThenBy(one => (one.Message[0] & 0xf0) == 0x90 ? 1 : 0)];

    private static (float[] Sound, int Most, SoundFontSynth Synth) Play(
        IReadOnlyList<(double Seconds, byte[] Message)> events, SoundFontBank bank, int voices)
    {
        var synth = new SoundFontSynth(bank, Playing.Rate, new SoundFontSynthOptions { Dry = true, MaxVoices = voices });
        var sound = new List<float>();
        var most = 0;
        foreach (var (seconds, message) in events)
        {
            sound.AddRange(synth.Left(Playing.Frames(seconds) - sound.Count));
            most = Math.Max(most, synth.ActiveVoices);
            synth.Send(message);
        }

        sound.AddRange(synth.Left(Playing.Frames(1)));
        return ([.. sound], most, synth);
    }
}
