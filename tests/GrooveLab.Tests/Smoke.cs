namespace GrooveLab.Tests;
public sealed class Smoke { [Xunit.Fact] public void One_Is_One() => Xunit.Assert.Equal(1, 1); }
