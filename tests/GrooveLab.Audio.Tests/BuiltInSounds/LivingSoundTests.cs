using GrooveLab.Audio.SoundFonts;
using GrooveLab.Audio.Synthesis;
using NAudio.SoundFont;
using Xunit;

namespace GrooveLab.Audio.Tests.BuiltInSounds;

/// <summary>What keeps the built-in sounds from sounding like a machine: notes that differ, stiff strings, jitter, vibrato, onsets.</summary>
public sealed class LivingSoundTests
{
    private const int Rate = 48000;
    private const int BorrowedKeys = 4;

    private static readonly BankUnderTest Bank = BankUnderTest.Instance;
    private static readonly Lazy<SoundFontBank> Loaded = new(() => SoundFontBank.Load(Bank.Bytes, "built-in"));

    [Theory]
    [MemberData(nameof(Instruments.Programs), MemberType = typeof(Instruments))]
    public void Notes_EqualOnesInARow_DifferByOneToThreeDecibelsInThirdOctaves(int program)
    {
        var (name, _, low, high, _) = Instruments.Of(program);
        foreach (var key in new[] { low + 6, (low + high) / 2, high - 6 })
        {
            var notes = Repeated(program, key, 10, BorrowedKeys).Select(note => ThirdOctaves.Of(note, Rate)).ToArray();
            double[] steps = [.. notes.Zip(notes.Skip(1), ThirdOctaves.Difference)];
            Assert.True(steps.Average() is >= 1 and <= 3, $"{name} {key}: mean {steps.Average():F2} dB");
            Assert.True(steps.Min() >= 0.5 && steps.Max() <= 5, $"{name} {key}: {steps.Min():F2} to {steps.Max():F2} dB");
        }
    }

    // Where only the velocity makes accents, the samples must not. Without the basses, of which an attack has two or three periods.
    [Theory]
    [InlineData(15)]
    [InlineData(24)]
    [InlineData(25)]
    [InlineData(28)]
    [InlineData(105)]
    public void Attacks_OfEqualNotes_AreEquallyLoud(int program)
    {
        var (name, _, low, high, _) = Instruments.Of(program);
        foreach (var key in Enumerable.Range(low + 4, high - low - 8).Where(key => key % 3 == 0))
        {
            double[] levels = [.. Repeated(program, key, 8, BorrowedKeys).Select(Attack)];
            Assert.True(levels.Max() - levels.Min() <= 1.5, $"{name} {key}: {levels.Max() - levels.Min():F2} dB");
        }
    }

    [Theory]
    [InlineData(30)]
    [InlineData(68)]
    [InlineData(105)]
    public void Attacks_DampedAndOpen_AreEquallyLoud(int velocity)
    {
        int[] keys = [.. Enumerable.Range(0, 10).Select(i => 45 + (4 * i))];
        var apart = keys.Average(key => Attack(Bank.Render(28, key, velocity, 0.3)) - Attack(Bank.Render(25, key, velocity, 0.3)));
        Assert.InRange(apart, -1, 1);
    }

    [Fact]
    public void Notes_WithoutBorrowing_AreAllAlike()
    {
        var notes = Repeated(25, 62, 3, 0);
        Assert.Equal(notes[0], notes[1]);
        Assert.Equal(notes[0], notes[2]);
    }

    [Fact]
    public void Notes_Borrowing_AreTheSameForAnyBufferSizesAndAfterAReset()
    {
        var synth = Synth(25, BorrowedKeys);
        var whole = Played(synth, 4096);
        synth.Reset();
        synth.Render(new float[Rate], new float[Rate]);
        synth.Control(0, 7, 127);
        var again = Played(Synth(25, BorrowedKeys), 37);
        Assert.Equal(whole, again);
        Assert.Equal(whole.Length, Played(synth, 512).Length);

        static float[] Played(SoundFontSynth synth, int chunk)
        {
            var sound = new float[4 * 8192];
            var other = new float[sound.Length];
            for (var note = 0; note < 4; note++)
            {
                synth.NoteOn(0, 62, 80);
                for (var done = 0; done < 8192; done += chunk)
                {
                    var size = Math.Min(chunk, 8192 - done);
                    synth.Render(sound.AsSpan((note * 8192) + done, size), other.AsSpan((note * 8192) + done, size));
                }
            }

            return sound;
        }
    }

    [Fact]
    public void Notes_OnAnotherChannel_ChangeNothing()
    {
        // Stems are rendered alone and must equal their part of the mix.
        SoundFontSynth alone = Synth(25, BorrowedKeys), together = Synth(25, BorrowedKeys);
        together.Program(1, 25);
        together.Control(1, 7, 0);
        foreach (var synth in new[] { alone, together })
        {
            synth.NoteOn(0, 62, 80);
            synth.Render(new float[999], new float[999]);
        }

        together.NoteOn(1, 62, 80);
        together.NoteOff(1, 62);
        alone.NoteOn(0, 62, 80);
        together.NoteOn(0, 62, 80);
        float[] one = new float[4096], other = new float[4096];
        alone.Render(one, new float[4096]);
        together.Render(other, new float[4096]);

        // The voices lie in other lanes, so sums may differ in their last bit.
        Assert.True(one.Zip(other).All(pair => Math.Abs(pair.First - pair.Second) < 1e-5));
    }

    // B from diameter, tension and length of usual strings by the formula of Fletcher and Rossing (from memory); the range is that of the recipes.
    [Theory]
    [InlineData(15, 52, 2e-4)]
    [InlineData(25, 45, 5e-5)]
    [InlineData(33, 33, 8e-5)]
    public void Strings_OfSteel_StretchTheirPartials(int program, int key, double stiffness)
    {
        var sound = Bank.Render(program, key, 105, 0.4);
        var first = Measure.Frequency(sound, Rate, Measure.KeyFrequency(key), 0.02, 0.1, 0.05);
        foreach (var n in new[] { 10, 14 })
        {
            var expected = n * first * Math.Sqrt(1 + (stiffness * n * n));
            var found = Measure.Frequency(sound, Rate, expected, 0.02, 0.1, 0.004);
            var stretched = Measure.Cents(found, n * first);
            Assert.InRange(stretched, 0.45 * Measure.Cents(expected, n * first), 1.6 * Measure.Cents(expected, n * first));
        }
    }

    [Theory]
    [InlineData(40)]
    [InlineData(42)]
    public void Bows_Pitch_JittersByThreeToSixCents(int program)
    {
        var jitters = Looped(program).Select(header =>
        {
            var frames = Bank.Sample(header);
            int start = (int)(header.StartLoop - header.Start), loop = (int)(header.EndLoop - header.StartLoop);
            double rate = header.SampleRate, fundamental = Measure.KeyFrequency(header.OriginalPitch), hop = 0.008;
            var long3 = Enumerable.Range(0, 3 * loop).Select(i => frames[start + (i % loop)]).ToArray();
            var cents = Enumerable.Range(0, 80).Select(i => Measure.Cents(
                Measure.Frequency(long3, rate, fundamental, i * hop, Math.Max(0.02, 3 / fundamental), hop), fundamental)).ToArray();
            var mean = cents.Average();
            return Math.Sqrt(cents.Average(c => (c - mean) * (c - mean)));
        }).ToArray();
        Array.Sort(jitters);
        Assert.True(jitters[jitters.Length / 2] is >= 2.5 and <= 6, $"median {jitters[jitters.Length / 2]:F1} cents");
        Assert.True(jitters[^1] <= 9, $"most {jitters[^1]:F1} cents");
    }

    [Theory]
    [InlineData(21, 0.25)]
    [InlineData(40, 0.5)]
    [InlineData(42, 0.5)]
    [InlineData(73, 0.25)]
    public void Loops_OfSustainedTones_AreLong(int program, double least) =>
        Assert.All(Looped(program), header => Assert.True((header.EndLoop - header.StartLoop) / (double)header.SampleRate >= least, header.SampleName));

    [Fact]
    public void Reeds_Level_DoesNotBeatSlowly()
    {
        for (var key = 48; key <= 96; key += 5)
        {
            var sound = Bank.Render(21, key, 80, 2.4);
            double[] levels = [.. Enumerable.Range(0, 20).Select(i => Measure.Decibels(Measure.Rms(sound.AsSpan((int)((0.4 + (0.1 * i)) * Rate), Rate / 10))))];
            Assert.True(levels.Max() - levels.Min() < 1, $"{key}: {levels.Max() - levels.Min():F2} dB");
        }
    }

    [Theory]
    [InlineData(40)]
    [InlineData(42)]
    [InlineData(73)]
    public void Vibrato_NeighbouringSamples_DifferAndStartLate(int program)
    {
        var regions = Bank.Regions(program).Where(r => r.Sample.SampleName?.EndsWith(" m", StringComparison.Ordinal) == true).OrderBy(r => r.Sample.OriginalPitch).ToArray();
        Assert.All(regions, r => Assert.InRange(Math.Pow(2, r.Generators[GeneratorEnum.DelayVibratoLFO] / 1200.0), 0.35, 0.8));
        Assert.All(
            regions.Zip(regions.Skip(1)),
            pair => Assert.NotEqual(pair.First.Generators[GeneratorEnum.FrequencyVibratoLFO], pair.Second.Generators[GeneratorEnum.FrequencyVibratoLFO]));
        Assert.True(regions.Select(r => r.Generators[GeneratorEnum.VibratoLFOToPitch]).Distinct().Count() >= 4);
    }

    [Theory]
    [InlineData(15, -22)]
    [InlineData(25, -26)]
    [InlineData(105, -22)]
    [InlineData(40, -30)]
    [InlineData(42, -30)]
    public void Onsets_OfHammersPicksAndBows_ReachTheWholeBand(int program, double least)
    {
        // The first 15 ms: the octave from 5.6 to 11.3 kHz against the whole. Common practice, no source.
        var (name, _, low, high, plucked) = Instruments.Of(program);
        for (var key = low; key <= high; key += 6)
        {
            var sound = Bank.Render(program, key, 100, 0.1)[..(Rate / (plucked ? 66 : 33))];
            var power = Measure.PowerSpectrum(sound);
            var share = 10 * Math.Log10(Measure.Band(power, Rate, 5600, 11300) / Measure.Band(power, Rate, 40, 20000));
            Assert.True(share > least, $"{name} {key}: {share:F1} dB");
        }
    }

    [Fact]
    public void Dulcimer_StringsThatRingAlong_AreSoftAndFadeSlowly()
    {
        foreach (var region in Bank.Regions(15).Where(r => BankUnderTest.IsHalo(r.Sample)))
        {
            Assert.InRange(Math.Pow(2, region.Generators[GeneratorEnum.ReleaseVolumeEnvelope] / 1200.0), 2, 4);
            var level = Measure.Decibels(Measure.Rms(Bank.Sample(region.Sample)));
            Assert.InRange(level, -56, -36);
        }
    }

    // The loudness of the first 60 ms.
    private static double Attack(double[] note) => Measure.Loudness(note.AsSpan(0, (int)(0.06 * Rate)), 0.06);

    private static SampleHeader[] Looped(int program) =>
        [.. Bank.Regions(program).Select(r => r.Sample).Distinct().Where(h => h.EndLoop > h.StartLoop && h.SampleName?.EndsWith(" s", StringComparison.Ordinal) != true)];

    private static double[][] Repeated(int program, int key, int count, int borrowedKeys)
    {
        const double Seconds = 0.35;
        var synth = Synth(program, borrowedKeys);
        var notes = new double[count][];
        for (var n = 0; n < count; n++)
        {
            // Starts on a quantum of 64 frames, so that equal notes are equal to the last bit.
            var frames = (int)(Seconds * Rate) / 64 * 64;
            float[] left = new float[frames], right = new float[frames];
            synth.NoteOn(0, key, 80);
            synth.Render(left, right);
            synth.NoteOff(0, key);
            synth.Control(0, 120, 0);
            synth.Render(new float[4096], new float[4096]);
            notes[n] = [.. left.Select(value => (double)value)];
        }

        return notes;
    }

    private static SoundFontSynth Synth(int program, int borrowedKeys)
    {
        var synth = new SoundFontSynth(Loaded.Value, Rate, new SoundFontSynthOptions { Dry = true, BorrowedKeys = borrowedKeys });
        synth.Program(0, program);
        synth.Control(0, 7, 127);
        return synth;
    }
}
