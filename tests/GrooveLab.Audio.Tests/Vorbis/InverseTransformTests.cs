using GrooveLab.Audio.Vorbis;
using Xunit;

namespace GrooveLab.Audio.Tests.Vorbis;

public class InverseTransformTests
{
    [Theory]
    [InlineData(64)]
    [InlineData(128)]
    [InlineData(1024)]
    public void Transform_RandomSpectrum_IsTheSumOfItsCosines(int blockSize)
    {
        var random = new Random(blockSize);
        var spectrum = Enumerable.Range(0, blockSize / 2).Select(_ => (float)(random.NextDouble() - 0.5)).ToArray();
        var block = new float[blockSize];

        new InverseTransform(blockSize).Transform(spectrum, block);

        // The definition of the inverse modified discrete cosine transform, as section 4.3.7 of Vorbis I refers to it.
        for (var i = 0; i < blockSize; i++)
        {
            var sum = 0.0;
            for (var k = 0; k < spectrum.Length; k++)
                sum += spectrum[k] * Math.Cos(2 * Math.PI / blockSize * (i + 0.5 + (blockSize / 4.0)) * (k + 0.5));
            Assert.Equal(sum, block[i], 1e-4);
        }
    }
}
